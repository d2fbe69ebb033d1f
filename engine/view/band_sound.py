"""What the page "With the band" plays, part by part, and what it shows meanwhile."""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache
from itertools import pairwise
from typing import Any

from engine.lines.line import Line
from engine.practice.band import Arranged, Band, arranged
from engine.practice.reached import music_id
from engine.sound.arrangement import Arrangement, as_json
from engine.sound.event import Chapter, clock
from engine.theory.key import Key
from engine.theory.wording import Text, say, show
from engine.view.band import title_of


@lru_cache(maxsize=4)
def sound_of(band: Band, number: int) -> tuple[dict[str, Any], str | None]:
    """A part of what is played, with what the page shows meanwhile; and a sentence on what is not as set.

    Not to be changed.
    """
    made = arranged(band)
    part = made.part(number)
    sound = as_json(part)
    told = [[begin, place] for (begin, _), place in zip(sound["chapters"], _places(made, part), strict=True)]
    sound["chapters"] = sorted([*told, *_over(made, number)], key=lambda one: one[0])
    sound["more"] = None if made.is_last(number) else str(number + 1)
    return sound, " ".join(made.said) or None


def _places(made: Arranged, part: Arrangement) -> list[dict[str, str]]:
    """What the page shows from each chapter of a part on, by the names of its places."""
    last = len(made.keys)
    shown_places = []
    for chapter in part.chapters:
        key = made.keys[max(1, chapter.chorus) % last]
        tempo = _tempo(part, chapter)
        turn = say("Your turn") if chapter.free else "" if chapter.line is None else title_of(made.lines[chapter.line])
        chorus = say("Chorus {number} of {last}, tempo {tempo}", number=chapter.chorus, last=last, tempo=tempo)
        shown_places.append({
            "key": show(chapter.key.tonic),
            "next": show(_next(chapter.key, key)),
            "chord": show(chapter.chord),
            "chorus": show(chorus if chapter.chorus else say("Count-in, tempo {tempo}", tempo=tempo)),
            "turn": show(turn),
            "now": str(tempo),
        })  # fmt: skip
    return shown_places


def _tempo(part: Arrangement, chapter: Chapter) -> int:
    return [bpm for beat, bpm in part.tempos if beat <= chapter.beat][-1]


def _over(made: Arranged, number: int) -> Iterator[list[Any]]:
    """Seconds at which a line has come to its end within a part, each with what can be marked from then on.

    That is when its last note ends, or when the last sound of the part begins, whichever comes first. What is marked
    stays until the next line is over: the tap comes when the band is further on already.
    """
    part = made.part(number)
    second = clock(part.tempos)
    before = made.part(number - 1).chapters if number else ()
    begun = [chapter for chapter in (*before, *part.chapters) if chapter.line is not None]
    notes = [event for event in part.events if event.index is not None]
    for note, following in pairwise([*notes, None]):
        chapter = next((one for one in reversed(begun) if note and one.beat <= note.beat), None)
        if note is None or note.index is None or chapter is None or chapter.line is None:
            continue
        line = made.lines[chapter.line]
        # A pickup may cut the end of the line before it.
        is_cut = following is not None and following.index is not None and following.index <= note.index
        if is_cut or note.index == len(line.notes) - 1:
            end = min(second(note.end), second(part.events[-1].beat))
            yield [round(end, 4), _to_mark(line, chapter.key, _tempo(part, chapter))]


def _to_mark(line: Line, key: Key, tempo: int) -> dict[str, str]:
    """What is marked when it is said that a line went well: as the button tells it, and as its field does."""
    own = Key(key.tonic, line.key.mode)
    return {"mark": show(say("{key} {tempo}", key=own, tempo=tempo)), "marking": f"{music_id(line)} {own} {tempo}"}


def _next(now: Key, following: Key) -> Text | str:
    """What stands beside the large key: its mode where that is minor, and the key that comes then."""
    then = say("then {tonic}", tonic=following.tonic) if following != now else ""
    if now.mode == "major":
        return then
    return say("minor, {then}", then=then) if then else say("minor")
