"""What drills about chord changes share: the one nearest tone, and what a wrong landing is over the next chord."""

from __future__ import annotations

from collections.abc import Sequence

from engine.drills.facts import Facts, chord_in
from engine.drills.mistakes import MISTAKES, quality_on
from engine.drills.question import Choice
from engine.theory.chord import Chord
from engine.theory.degree import Degree
from engine.theory.naming import CHORD_TONE, name_over
from engine.theory.pitch import Pitch
from engine.theory.resolution import Step, steps_into
from engine.theory.wording import Text, say

GUIDE_TONES = (3, 7)
WIDEST_STEP = 2  # half steps


def nearest(note: Pitch, following: Chord, rungs: Sequence[int] = GUIDE_TONES) -> Step | None:
    """The one nearest of these tones of the next chord, held or by step; None on a tie or where it is a leap away."""
    near = [step for step in steps_into(note, following) if step.degree.rung in rungs]
    first = min(near, key=lambda step: abs(step.semitones))
    tied = [step for step in near if abs(step.semitones) == abs(first.semitones)]
    return first if len(tied) == 1 and abs(first.semitones) <= WIDEST_STEP else None


def step_name(semitones: int) -> str:
    """A signed step in words: "falls a half step"."""
    size = {1: "a half step", 2: "a whole step"}[abs(semitones)]
    return f"{'rises' if semitones > 0 else 'falls'} {size}"


def wrong_landing(about: Facts, note: Pitch, mistake: str) -> Choice:
    """A note that a mistake leads to, as a choice that says what it is over the next chord."""
    following = chord_in(about, "next")
    named = name_over(following, note)
    # What the next chord holds is usable, whatever mistake led there.
    usable = named.role == CHORD_TONE
    # Beside a dominant's 3 the other third is heard as one, though it is called #9 elsewhere.
    degree = Degree("b3") if mistake == "third of the other quality" and named.degree.name == "#9" else named.degree
    slip = _slip(about, mistake)
    template = (
        "Over {next}, {note} is the {degree}: usable, not asked; {slip}."
        if usable
        else "Over {next}, {note} is the {degree}: {slip}."
    )
    why = say(template, next=following, note=note, degree=degree, slip=slip)
    return Choice(note, why, say("{degree}", degree=degree), mistake, usable)


def _slip(about: Facts, mistake: str) -> Text:
    """What was done, with the facts of the question that the row's sentence names."""
    rung = {"third of the other quality": 3, "seventh of the other quality": 7}.get(mistake)
    if rung:
        return say(MISTAKES[mistake].says, quality=quality_on(chord_in(about, "next"), rung))
    if "after" in about:
        return say(MISTAKES[mistake].says, chord=chord_in(about), after=chord_in(about, "after"))
    return say(MISTAKES[mistake].says, chord=chord_in(about))
