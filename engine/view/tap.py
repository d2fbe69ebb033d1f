"""The paper of a question that is answered by taps: the places of a neck, step by step, and what each would be.

The neck is a grid, a row a string and a column a fret, in front of a drawing that is stretched to it; a keyboard
(engine.view.keys) is another grid with the same steps.
Each step has a box to check for every place: a wrong tap, and a right one of the last step, is an answer
and has the question's name; a right one of an earlier step is no answer and leads on to the next. All are
boxes of one kind, or else the right ones would show to those who go by keyboard or listen.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from engine.drills.places import degree_over
from engine.drills.question import Board, Choice, Keys, Question, Tap
from engine.neck.instrument import Place
from engine.practice.records import choice_facts
from engine.practice.round import Answer
from engine.theory.chord import Chord
from engine.theory.wording import Profile, Text, say
from engine.view.asked import asked_in_words
from engine.view.marks import mark
from engine.view.markup import as_data, number, plain, prose, words
from engine.view.neck import Window, board, string_name
from engine.view.tab import tab_svg

# How wide the column left of the frets is, for the strings' names alone or for the open strings; the first fret is 1.
# The style sheet has the same.
_NAMES, _OPENED = 0.5, 0.9
FRETS = range(4, 7)  # fretted columns that it knows
_FEW_STRINGS, _MANY_STRINGS = 5, 7  # so few are set wider apart, so many closer
_WIDE, _HIGH = 1000.0, 100.0  # units of the drawing: all of it, and a string
_REACH = 14.0
_MARK = 7.0


def board_html(question: Question, on: Board | Keys, name: str, answer: Answer | None, profile: Profile) -> str:
    """What is tapped in the section ``name``, with all that it brings to light. ValueError where a neck is too wide."""
    legend = f'<legend class="unseen">{asked_in_words(question, profile)}</legend>'
    if isinstance(on, Keys):
        # What only the drills on a keyboard need costs no other page anything.
        from engine.view.keys import keys_html

        return f"<fieldset>{legend}{keys_html(question, on, name, answer, profile)}</fieldset>"
    return f"<fieldset>{legend}{_Neck(on, profile).html(question, name, answer)}</fieldset>"


def accepted_html(question: Question, profile: Profile) -> str:
    """All places that answer a question; of one with several steps the degrees, and a TAB with a place for each."""
    accepted = [tuple(choice for choice in step if choice.right) for step in question.steps]
    if len(accepted) == 1:
        return words("{places:and}", profile, places=tuple(choice.label for choice in accepted[0]))
    degrees = words("{degrees:run}", profile, degrees=tuple(choices[0].gloss for choices in accepted))
    if isinstance(question.board, Keys):
        return degrees
    places = _together(
        [[choice.value.place for choice in those if isinstance(choice.value, Tap)] for those in accepted]
    )
    told = words("{places}", profile, places=tuple(_where(string, fret) for string, fret in places))
    strings = max(choice.value.place.string for choice in question.steps[0] if isinstance(choice.value, Tap))
    return f'{degrees} <span class="unseen">{told}</span>{tab_svg(places, strings)}'


def _together(steps: Sequence[Sequence[Place]]) -> list[Place]:
    """One place of each step, near the one before."""
    places = [steps[0][0]]
    for those in steps[1:]:
        before = places[-1]
        places.append(min(those, key=lambda place: (abs(place.string - before.string), abs(place.fret - before.fret))))
    return places


@dataclass(frozen=True, slots=True)
class _Neck:
    """The part of a neck that a question is answered on."""

    on: Board
    profile: Profile

    @property
    def first(self) -> int:
        """The lowest fret that is not the open string."""
        return max(self.on.low, 1)

    def html(self, question: Question, name: str, answer: Answer | None) -> str:
        on = self.on
        fretted = on.high - self.first + 1
        if fretted not in FRETS:
            raise ValueError(f"a board has {FRETS[0]} to {FRETS[-1]} frets, not {fretted}")
        strings = range(1, len(on.instrument.strings) + 1)
        names = "".join(
            f'<span class="string r{string}" aria-hidden="true">'
            f"{string_name(on.instrument, string, self.profile)}</span>"
            for string in strings
        )
        numbers = "".join(
            f'<span class="fret {self._column(fret)}" aria-hidden="true">{fret}</span>'
            for fret in range(self.first, on.high + 1)
        )
        steps = Steps(name, answer, self.profile, self._spot).html(question)
        opened = " opened" if on.low == 0 else ""
        many = " few" if len(strings) <= _FEW_STRINGS else " many" if len(strings) >= _MANY_STRINGS else ""
        return (
            f'<div class="board w{fretted}{opened}{many}" data-frets="{on.high - on.low + 1}">'
            f"{self._drawn(fretted)}{names}{numbers}{self._marks()}{steps}</div>"
        )

    def _drawn(self, fretted: int) -> str:
        """Strings and frets; they begin behind the column of names."""
        frets = sum(2 ** (-fret / 12) for fret in range(fretted))
        beside = _NAMES if self.on.low else _OPENED
        window = Window(self.on.low, self.on.high, _WIDE * beside / (beside + frets), _WIDE, opened=0)
        strings = len(self.on.instrument.strings)
        return (
            f'<svg class="drawn" viewBox="0 0 {number(_WIDE)} {number(_HIGH * strings)}" preserveAspectRatio="none"'
            ' aria-hidden="true" focusable="false">'
            f"{board(window, tuple(_HIGH * (row + 0.5) for row in range(strings)), _REACH)}</svg>"
        )

    def _spot(self, choice: Choice) -> str:
        if not isinstance(choice.value, Tap):
            raise ValueError(f"{choice.value} is no tap")
        string, fret = choice.value.place
        return f"r{string} {self._column(fret)}"

    def _column(self, fret: int) -> str:
        return "k1" if fret == 0 else f"k{fret - self.first + 2}"

    def _marks(self) -> str:
        """What stands on the neck from the start."""
        return "".join(
            f'<span class="marked r{given.place.string} {self._column(given.place.fret)}">'
            f'<span class="unseen">{plain(_where(given.place.string, given.place.fret), self.profile)}: </span>'
            '<svg viewBox="-8 -8 16 16" aria-hidden="true" focusable="false">'
            f"{mark(given.role, 0, 0, _MARK, _MARK)}</svg>{plain(given.label, self.profile)}</span>"
            for given in self.on.marks
        )


@dataclass(frozen=True, slots=True)
class Steps:
    """The steps of a question: its section, its answer, and where a choice stands in the grid, as classes."""

    name: str
    answer: Answer | None
    profile: Profile
    spot: Callable[[Choice], str]

    def html(self, question: Question) -> str:
        """Every step with its boxes and sentences."""
        steps, before = "", 0
        # A place of the neck has no room for a third line.
        several = question.steps if isinstance(question.board, Keys) else ()
        turns = {self.spot(choice): place for place, step in enumerate(several) for choice in step if choice.right}
        for place, step in enumerate(question.steps):
            steps += self._step(question, step, place, before, turns)
            before += len(step)
        return steps + self._whole(question)

    def _whole(self, question: Question) -> str:
        """Of a figure that is heard all its notes in order, and what they are over the chord."""
        chord, row = question.about.get("chord"), question.row
        if not question.heard or row is None or not isinstance(chord, Chord):
            return ""
        told = say(
            "The figure: {notes:run} over {chord}, the {degrees:and}.",
            notes=tuple(note.in_octave(None) for note in row.notes), chord=chord,
            degrees=tuple(degree_over(chord, degree) for degree in row.degrees),
        )  # fmt: skip
        return f'<p class="why whole">{prose(told, self.profile)}</p>'

    def _step(
        self, question: Question, step: Sequence[Choice], place: int, before: int, turns: Mapping[str, int]
    ) -> str:
        """A step of the question: ``place`` its number from 0, ``before`` how many choices the ones before it have.

        ``turns``: at which step a spot is right.
        """
        right = [choice for choice in step if choice.right]
        doing = f'<p class="doing">{self._doing(question, right[0], place)}</p>' if len(question.steps) > 1 else ""
        cells = "".join(
            self._cell(question, choice, index, place if choice.right else turns.get(self.spot(choice)))
            for index, choice in enumerate(step, start=before)
        )
        instead = f'<p class="why instead">{prose(right[0].why, self.profile)}</p>'
        return f'<div class="step">{doing}{cells}{instead}</div>'

    def _doing(self, question: Question, right: Choice, place: int) -> str:
        """What is asked now; of a figure that is heard nothing but how far one has come."""
        number, count = _number(question, place)
        if question.heard:
            return words("Note {place} of {count}", self.profile, place=number, count=count)
        over = _other_chord(question, place)
        return words(
            "{place} of {count}: the {degree} of {chord}" if over else "{place} of {count}: the {degree}",
            self.profile, place=number, count=count, degree=right.gloss, **({"chord": over} if over else {}),
        )  # fmt: skip

    def _cell(self, question: Question, choice: Choice, index: int, turn: int | None) -> str:
        """A choice with the step at which its spot is right, if it is right at any."""
        onward = choice.right and turn is not None and turn + 1 < len(question.steps)
        kind = "onward" if onward else f"choice {'right' if choice.right else 'usable' if choice.usable else 'wrong'}"
        identity = f"{self.name}-{index + 1}"
        facts = f' name="{self.name}" value="{index}" data-choice="{as_data(choice_facts(choice))}"'
        state = ""
        if self.answer is not None:
            state = " checked" if self.answer.choice == index else " disabled"
        why = f'<p class="why">{prose(choice.why, self.profile)}</p>'
        return (
            f'<div class="{kind} {self.spot(choice)}"><input type="checkbox" id="{identity}"'
            f'{"" if onward else facts} aria-label="{plain(choice.label, self.profile)}"{state}>'
            f'<label for="{identity}"><b>{plain(choice.gloss, self.profile)}</b>'
            f'<i class="verdict">{self._verdict(question, choice, turn)}</i></label>{"" if onward else why}</div>'
        )

    def _verdict(self, question: Question, choice: Choice, turn: int | None) -> str:
        """A word at the place; in a row of steps the number of a right one, and of a wrong one that is right later."""
        where = ""
        if len(question.steps) > 1 and turn is not None:
            number, count = _number(question, turn)
            where = words("{place} of {count}", self.profile, place=number, count=count)
        if not choice.right:
            also = f'<span class="also"><span class="unseen">, </span>{where}</span>' if where else ""
            return words("usable" if choice.usable else "yours", self.profile) + also
        right = words("right", self.profile)
        return f'<span class="unseen">{right}, </span>{where}' if where else right


def _number(question: Question, step: int) -> tuple[int, int]:
    """Which note a step is, from 1, and of how many: of a figure that is heard, those that are given count too."""
    given = len(question.heard.bars[-1][1]) - len(question.steps) if question.heard else 0
    return given + step + 1, given + len(question.steps)


def _other_chord(question: Question, step: int) -> Chord | None:
    """The chord that a step's degree is counted over, where it is not the first one."""
    chords = question.about.get("chords")
    chord = chords[step] if isinstance(chords, tuple) else None
    return chord if isinstance(chord, Chord) and chord != question.about.get("chord") else None


def _where(string: int, fret: int) -> Text:
    return say("string {string}, fret {fret}", string=string, fret=fret)
