"""Which picture belongs to a question: found by what is given, never by which drill asks."""

from __future__ import annotations

from engine.drills.facts import board_in
from engine.drills.question import Board, Question, Row, Tab
from engine.theory.chord import Chord
from engine.theory.degree import Degree
from engine.theory.naming import CHORD_TONE, name_over
from engine.theory.pitch import Pitch
from engine.theory.wording import USUAL, Profile
from engine.view.marks import NOTE, legend
from engine.view.markup import plain, words
from engine.view.picture import Picture, svg
from engine.view.shape import shape_pictures
from engine.view.staff import (
    DEGREES_AT,
    HEIGHT,
    NOTES_FROM,
    TREBLE,
    WIDTH,
    Clef,
    Column,
    clef_for,
    height_of,
    placed,
    staff,
    steps_above,
    written,
)

_MIDDLE = 4  # steps from the bottom line to the middle one
_LEGEND_AT = HEIGHT + 14
_WHOLE = _LEGEND_AT + 5
_ROOM = WIDTH - NOTES_FROM
_ABOVE = -20.0  # a thirteenth above the root is drawn where it is, however high
_DEGREE_BELOW = 17.0  # from the middle of a note to the base line of a degree that it does not touch
_NOTE_ABOVE = 8.0  # from the middle of a note to the picture's upper edge
_LEFT, _RIGHT = NOTES_FROM + _ROOM * 0.25, NOTES_FROM + _ROOM * 0.75


def pictures_html(question: Question, name: str, profile: Profile = USUAL) -> str:
    """The question's picture before and after its answer; nothing where there is none to draw."""
    pair = _pair(question, profile)
    if pair is None:
        return ""
    before, after = pair
    if question.heard:
        # What only the drills by ear need costs no other page anything.
        from engine.view.ear import ear_html

        looked, answered = svg(before, f"{name}-before", "always"), svg(after, f"{name}-after", "after")
        return ear_html(question.heard, looked, answered, profile)
    return (
        f'<div class="pictures">{svg(before, f"{name}-before", "before")}{svg(after, f"{name}-after", "after")}</div>'
    )


def _pair(question: Question, profile: Profile) -> tuple[Picture, Picture] | None:
    if question.shape is not None:
        return shape_pictures(question.shape, profile)
    if question.row is not None:
        return row_pictures(question.row, profile, _clef(question))
    chord, note, following = (question.given.get(name) for name in ("chord", "note", "next"))
    degree, answer = question.given.get("degree"), question.choices[question.right].value
    if isinstance(chord, Chord) and isinstance(degree, Degree) and isinstance(answer, Pitch) and note is None:
        return note_pictures(chord, degree, answer, profile)
    if not isinstance(chord, Chord) or not isinstance(note, Pitch):
        return None
    if isinstance(following, Chord) and isinstance(answer, Pitch):
        return landing_pictures(chord, note, following, answer, profile)
    if isinstance(answer, Degree):
        return degree_pictures(chord, note, answer, profile)
    return None


def _clef(question: Question) -> Clef | None:
    """The clef of the instrument that a question is about; None where it is about none."""
    on_neck = isinstance(question.board, Board) or any(isinstance(choice.value, Tab) for choice in question.choices)
    return clef_for(board_in(question.about).instrument) if on_neck else None


def row_pictures(row: Row, profile: Profile = USUAL, clef: Clef | None = None) -> tuple[Picture, Picture]:
    """Notes of a line, one of them perhaps missing; then all of them with their degrees.

    With a ``clef`` they stand where they are played on an instrument that reads it; without one, in the octave that
    is read best.
    """
    notes = [written(note, profile) for note in row.notes]
    title = "{notes:and} on a staff"
    if clef is None:
        notes, clef = _in_view(notes), TREBLE
    elif clef.octaves:
        notes = [note.in_octave((note.octave or 0) + clef.octaves) for note in notes]
        title = "{notes:and} on a staff, an octave higher than they sound"
    degrees_at, whole, top = _room_for(notes, clef)
    width = _ROOM / len(notes)
    places = [NOTES_FROM + width * (place + 0.62) for place in range(len(notes))]
    bars = tuple(places[place] - width / 2 - 4 for place in row.bars)
    bare = tuple(note.in_octave(None) for note in row.notes)
    left_out = [note for place, note in enumerate(bare) if place != row.missing]
    asked = [
        Column(x, "?" if place == row.missing else "", None if place == row.missing else note, NOTE)
        for place, (x, note) in enumerate(zip(places, notes, strict=True))
    ]
    answered = [
        Column(x, plain(degree, profile), note, role)
        for x, note, degree, role in zip(places, notes, row.degrees, row.roles, strict=True)
    ]
    telling = "One note is missing." if row.missing is not None else "Their degrees are left out."
    before = Picture(
        whole, words(title, profile, notes=tuple(left_out)), words(telling, profile),
        staff(asked, bars, clef, degrees_at), top,
    )  # fmt: skip
    after = Picture(
        whole, words(title, profile, notes=bare),
        words("They are {degrees:and}.", profile, degrees=row.degrees),
        staff(answered, bars, clef, degrees_at)
        + legend(row.roles, degrees_at + _LEGEND_AT - DEGREES_AT, WIDTH, profile), top,
    )  # fmt: skip
    return before, after


def _room_for(notes: list[Pitch], clef: Clef) -> tuple[float, float, float]:
    """The degrees' base line below the lowest of written notes, the picture's lower edge, and its upper one.

    The picture is as high as usual, further down for low notes; only a wide or a very high row needs more.
    """
    heights = [height_of(note, clef) for note in notes]
    degrees_at = max(DEGREES_AT, max(heights) + _DEGREE_BELOW)
    whole = degrees_at + _WHOLE - DEGREES_AT
    return degrees_at, whole, min(whole - _WHOLE + _ABOVE, min(heights) - _NOTE_ABOVE, 0.0)


def _in_view(notes: list[Pitch]) -> list[Pitch]:
    """The notes in the octave in which they lie nearest the staff's middle."""
    heights = [steps_above(note) for note in notes]
    middle = (max(heights) + min(heights)) / 2
    octaves = -round((middle - _MIDDLE) / 7)
    return [note.in_octave((note.octave or 0) + octaves) for note in notes]


def degree_pictures(chord: Chord, note: Pitch, degree: Degree, profile: Profile = USUAL) -> tuple[Picture, Picture]:
    """A note alone; then above the root it is counted from."""
    root, high = _root_and_note(chord, degree, profile)
    role = name_over(chord, note).role
    label = plain(degree, profile)
    before = Picture(
        _WHOLE,
        words("{note} on a staff", profile, note=note),
        words("Its degree over {chord} is asked.", profile, chord=chord),
        staff([Column(_RIGHT, "", high, NOTE)]),
        _ABOVE,
    )
    after = Picture(
        _WHOLE,
        words("{note} above the root of {chord}", profile, note=note, chord=chord),
        words("The root is {root}; {note} is the {degree}.", profile, root=chord.root, note=note, degree=degree),
        staff([Column(_LEFT, "1", root, CHORD_TONE), Column(_RIGHT, label, high, role)])
        + legend([CHORD_TONE, role], _LEGEND_AT, WIDTH, profile),
        _ABOVE,
    )
    return before, after


def _root_and_note(chord: Chord, degree: Degree, profile: Profile) -> tuple[Pitch, Pitch]:
    """The root and the degree above it, in the octaves in which they are drawn."""
    steps, semitones = degree.steps, degree.semitones
    if degree.rung > 7:
        steps, semitones = steps + 7, semitones + 12
    root = placed(written(chord.root, profile), steps)
    return root, root.up(steps, semitones)


def note_pictures(chord: Chord, degree: Degree, note: Pitch, profile: Profile = USUAL) -> tuple[Picture, Picture]:
    """The root, and the place where the degree is wanted; then the note above it."""
    root, _ = _root_and_note(chord, degree, profile)
    before = Picture(
        _WHOLE,
        words("The root of {chord} on a staff", profile, chord=chord),
        words("The note that is its {degree} is asked.", profile, degree=degree),
        staff([Column(_LEFT, "1", root, CHORD_TONE), Column(_RIGHT, plain(degree, profile))]),
        _ABOVE,
    )
    return before, degree_pictures(chord, note, degree, profile)[1]


def landing_pictures(
    chord: Chord, note: Pitch, following: Chord, answer: Pitch, profile: Profile = USUAL
) -> tuple[Picture, Picture]:
    """A note and the bar that follows, still empty; then with the note it goes to."""
    low = placed(written(note, profile), 0)
    target = written(answer, profile).nearest_to(low)
    held = note.pitch_class == answer.pitch_class
    left, right = name_over(chord, note), name_over(following, answer)
    bars = (NOTES_FROM + _ROOM / 2, WIDTH - 1)
    leaving = Column(_LEFT, plain(left.degree, profile), low, left.role)
    before = Picture(
        _WHOLE,
        words("{note} over {chord} on a staff, then an empty bar", profile, note=note, chord=chord),
        words("The note in the bar of {next} is asked.", profile, next=following),
        staff([leaving], bars),
    )
    after = Picture(
        _WHOLE,
        words("{note} over {chord} is held into {next}, as {answer}", profile,
              note=note, chord=chord, answer=answer, next=following)
        if held
        else words("{note} over {chord} goes to {answer} over {next}", profile,
                   note=note, chord=chord, answer=answer, next=following),
        words("{note} is the {from_degree} of {chord}, {answer} the {to_degree} of {next}.", profile,
              note=note, from_degree=left.degree, chord=chord, answer=answer, to_degree=right.degree, next=following),
        staff([leaving, Column(_RIGHT, plain(right.degree, profile), target, right.role)], bars)
        + legend([left.role, right.role], _LEGEND_AT, WIDTH, profile),
    )  # fmt: skip
    return before, after
