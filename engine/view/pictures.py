"""Which picture belongs to a question: found by what is given, never by which drill asks."""

from __future__ import annotations

from engine.drills.question import Question
from engine.theory.chord import Chord
from engine.theory.degree import Degree
from engine.theory.naming import CHORD_TONE, name_over
from engine.theory.pitch import Pitch
from engine.theory.wording import USUAL, Profile
from engine.view.marks import NOTE, legend
from engine.view.markup import plain, words
from engine.view.picture import Picture, svg
from engine.view.shape import shape_pictures
from engine.view.staff import HEIGHT, NOTES_FROM, WIDTH, Column, placed, staff, written

_LEGEND_AT = HEIGHT + 14
_WHOLE = _LEGEND_AT + 5
_ROOM = WIDTH - NOTES_FROM
_ABOVE = -20.0  # a thirteenth above the root is drawn where it is, however high
_LEFT, _RIGHT = NOTES_FROM + _ROOM * 0.25, NOTES_FROM + _ROOM * 0.75


def pictures_html(question: Question, name: str, profile: Profile = USUAL) -> str:
    """The question's picture before and after its answer; nothing where there is none to draw."""
    pair = _pair(question, profile)
    if pair is None:
        return ""
    before, after = pair
    return (
        f'<div class="pictures">{svg(before, f"{name}-before", "before")}{svg(after, f"{name}-after", "after")}</div>'
    )


def _pair(question: Question, profile: Profile) -> tuple[Picture, Picture] | None:
    if question.shape is not None:
        return shape_pictures(question.shape, profile)
    chord, note, following = (question.given.get(name) for name in ("chord", "note", "next"))
    if not isinstance(chord, Chord) or not isinstance(note, Pitch):
        return None
    answer = question.choices[question.right].value
    if isinstance(following, Chord) and isinstance(answer, Pitch):
        return landing_pictures(chord, note, following, answer, profile)
    if isinstance(answer, Degree):
        return degree_pictures(chord, note, answer, profile)
    return None


def degree_pictures(chord: Chord, note: Pitch, degree: Degree, profile: Profile = USUAL) -> tuple[Picture, Picture]:
    """A note alone; then above the root it is counted from."""
    steps, semitones = degree.steps, degree.semitones
    if degree.rung > 7:
        steps, semitones = steps + 7, semitones + 12
    root = placed(written(chord.root, profile), steps)
    high = root.up(steps, semitones)
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


def landing_pictures(
    chord: Chord, note: Pitch, following: Chord, answer: Pitch, profile: Profile = USUAL
) -> tuple[Picture, Picture]:
    """A note and the bar that follows, still empty; then with the note it goes to."""
    low = placed(written(note, profile), 0)
    target = written(answer, profile).nearest_to(low)
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
        words("{note} over {chord} goes to {answer} over {next}", profile,
              note=note, chord=chord, answer=answer, next=following),
        words("{note} is the {from_degree} of {chord}, {answer} the {to_degree} of {next}.", profile,
              note=note, from_degree=left.degree, chord=chord, answer=answer, to_degree=right.degree, next=following),
        staff([leaving, Column(_RIGHT, plain(right.degree, profile), target, right.role)], bars)
        + legend([left.role, right.role], _LEGEND_AT, WIDTH, profile),
    )  # fmt: skip
    return before, after

