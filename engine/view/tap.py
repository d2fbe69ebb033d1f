"""The paper of a question that is answered on a neck: its places to tap, step by step, and what each would be.

The neck is a grid, a row a string and a column a fret, in front of a drawing that is stretched to it.
Each step has a box to check for every place: a wrong tap, and a right one of the last step, is an answer
and has the question's name; a right one of an earlier step is no answer and leads on to the next. All are
boxes of one kind, or else the right ones would show to those who go by keyboard or listen.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from engine.drills.question import Board, Choice, Question, Tap
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


def board_html(question: Question, on: Board, name: str, answer: Answer | None, profile: Profile) -> str:
    """The neck of the section ``name`` with all that its taps bring to light. ValueError where it is too wide."""
    legend = f'<legend class="unseen">{asked_in_words(question, profile)}</legend>'
    return f"<fieldset>{legend}{_Paper(on, name, len(question.steps), answer, profile).html(question)}</fieldset>"


def accepted_html(question: Question, profile: Profile) -> str:
    """All places that answer a question; of one with several steps the degrees, and a TAB with a place for each."""
    accepted = [tuple(choice for choice in step if choice.right) for step in question.steps]
    if len(accepted) == 1:
        return words("{places:and}", profile, places=tuple(choice.label for choice in accepted[0]))
    degrees = words("{degrees:run}", profile, degrees=tuple(choices[0].gloss for choices in accepted))
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
class _Paper:
    """What all parts of a board need: the question's board, its section, how many steps it has, its answer."""

    on: Board
    name: str
    count: int
    answer: Answer | None
    profile: Profile

    @property
    def first(self) -> int:
        """The lowest fret that is not the open string."""
        return max(self.on.low, 1)

    def html(self, question: Question) -> str:
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
        steps, before = "", 0
        for place, step in enumerate(question.steps):
            steps += self._step(question, step, place, before)
            before += len(step)
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

    def _step(self, question: Question, step: Sequence[Choice], place: int, before: int) -> str:
        """A step of the question: ``place`` its number from 0, ``before`` how many choices the ones before it have."""
        right = [choice for choice in step if choice.right]
        doing = ""
        if self.count > 1:
            over = _other_chord(question, place)
            said = words(
                "{place} of {count}: the {degree} of {chord}" if over else "{place} of {count}: the {degree}",
                self.profile, place=place + 1, count=self.count, degree=right[0].gloss,
                **({"chord": over} if over else {}),
            )  # fmt: skip
            doing = f'<p class="doing">{said}</p>'
        cells = "".join(self._cell(choice, index, place) for index, choice in enumerate(step, start=before))
        instead = f'<p class="why instead">{prose(right[0].why, self.profile)}</p>'
        return f'<div class="step">{doing}{cells}{instead}</div>'

    def _cell(self, choice: Choice, index: int, place: int) -> str:
        if not isinstance(choice.value, Tap):
            raise ValueError(f"{choice.value} is no tap")
        string, fret = choice.value.place
        onward = choice.right and place + 1 < self.count
        kind = "onward" if onward else f"choice {'right' if choice.right else 'usable' if choice.usable else 'wrong'}"
        identity = f"{self.name}-{index + 1}"
        facts = f' name="{self.name}" value="{index}" data-choice="{as_data(choice_facts(choice))}"'
        state = ""
        if self.answer is not None:
            state = " checked" if self.answer.choice == index else " disabled"
        why = f'<p class="why">{prose(choice.why, self.profile)}</p>'
        return (
            f'<div class="{kind} r{string} {self._column(fret)}"><input type="checkbox" id="{identity}"'
            f'{"" if onward else facts} aria-label="{plain(choice.label, self.profile)}"{state}>'
            f'<label for="{identity}"><b>{plain(choice.gloss, self.profile)}</b>'
            f'<i class="verdict">{self._verdict(choice, place)}</i></label>{"" if onward else why}</div>'
        )

    def _verdict(self, choice: Choice, place: int) -> str:
        """A word at the place; in a row of steps the number of a right one."""
        if not choice.right:
            return words("usable" if choice.usable else "yours", self.profile)
        if self.count == 1:
            return words("right", self.profile)
        where = words("{place} of {count}", self.profile, place=place + 1, count=self.count)
        return f'<span class="unseen">{words("right", self.profile)}, </span>{where}'


def _other_chord(question: Question, step: int) -> Chord | None:
    """The chord that a step's degree is counted over, where it is not the first one."""
    chords = question.about.get("chords")
    chord = chords[step] if isinstance(chords, tuple) else None
    return chord if isinstance(chord, Chord) and chord != question.about.get("chord") else None


def _where(string: int, fret: int) -> Text:
    return say("string {string}, fret {fret}", string=string, fret=fret)
