"""The questions that the tests of the drills look at: every drill and level, three seeds."""

from collections.abc import Iterator
from functools import cache
from itertools import islice

from by_hand import spell

from engine.drills.catalogue import BY_SLUG, Stream
from engine.drills.options import Options
from engine.drills.question import Choice, Question
from engine.theory.chord import Chord
from engine.theory.key import Key
from engine.theory.wording import Slot, Text

LEVELS = (1, 2, 3)
SEEDS = (1, 7, 20_240_229)
COUNT = 300
COUNT_ON_THE_NECK = 30  # each of these has a choice for every place of a neck, or is fingered several times

# The degrees of each kind of chord that is asked, by hand.
TONES = {
    "maj": "1 3 5", "m": "1 b3 5", "dim": "1 b3 b5", "aug": "1 3 #5", "6": "1 3 5 6", "m6": "1 b3 5 6",
    "maj7": "1 3 5 7", "m7": "1 b3 5 b7", "7": "1 3 5 b7", "m7b5": "1 b3 b5 b7", "dim7": "1 b3 b5 bb7",
    "mMaj7": "1 b3 5 7", "maj7#5": "1 3 #5 7", "maj7#11": "1 3 5 7 #11", "7sus4": "1 5 b7 11",
    "7b9": "1 3 5 b7 b9", "7#9": "1 3 5 b7 #9", "7#11": "1 3 5 b7 #11", "7b13": "1 3 5 b7 b13",
    "7b9b13": "1 3 5 b7 b9 b13", "7#5": "1 3 #5 b7", "7b9#11": "1 3 5 b7 b9 #11",
}  # fmt: skip
# The usual 9, 11 and 13 over each kind; 9, 11 and 13 over those that are not here.
UPPER = {
    "maj7": "9 #11 13", "maj7#11": "9 #11 13", "maj7#5": "9 #11 13", "6": "9 #11 13", "aug": "9 #11 13",
    "7#5": "9 #11 13", "m7b5": "b9 11 b13", "dim7": "9 11 b13", "dim": "9 11 b13",
}  # fmt: skip


@cache
def questions(slug: str, level: int) -> tuple[Question, ...]:
    """The first questions of a drill at a level, under each of the seeds."""
    streams = [Stream(slug, Options(level=level, seed=seed)) for seed in SEEDS]
    count = COUNT_ON_THE_NECK if BY_SLUG[slug].neck else COUNT
    return tuple(question for stream in streams for question in islice(stream, count))


def chord_of(question: Question) -> Chord:
    """The chord that is shown; where it would tell what is to be heard, the one that sounds."""
    chord = question.given.get("chord", question.about["chord"])
    assert isinstance(chord, Chord)
    return chord


def root_of(question: Question) -> str:
    """What the option ``keys`` chooses: the root of the chord that is shown, of a progression the tonic of its key."""
    key = question.about.get("key")
    if "progression" in question.about:
        assert isinstance(key, Key)
        return str(key.tonic)
    return str(chord_of(question).root)


def wrong_choices(slug: str, level: int) -> Iterator[tuple[Question, Choice, str]]:
    """Each wrong choice with its question and the key of its mistake."""
    for question in questions(slug, level):
        for choice in question.choices:
            if choice.mistake is not None:
                yield question, choice, choice.mistake


def tones(chord: Chord) -> list[str]:
    """The degrees that the chord's symbol names."""
    assert chord.kind is not None, chord
    return TONES[chord.kind].split()


def scale(chord: Chord) -> dict[int, str]:
    """The degree of the chord's usual scale on each letter, the root's letter being 1; what the symbol names wins."""
    ninth, eleventh, thirteenth = UPPER.get(chord.kind or "", "9 11 13").split()
    found = {1: "1", 2: ninth, 3: "3", 4: eleventh, 5: "5", 6: thirteenth, 7: "7"}
    on_letter = {"1": 1, "9": 2, "3": 3, "11": 4, "5": 5, "6": 6, "13": 6, "7": 7}
    return found | {on_letter[degree.lstrip("b#")]: degree for degree in reversed(tones(chord))}


def notes(chord: Chord) -> list[str]:
    """The notes of the chord, spelled."""
    return [spell(str(chord.root), degree) for degree in tones(chord)]


def claims(text: Text) -> dict[str, Slot]:
    """What a sentence says, by the names of its slots."""
    return dict(text.slots)
