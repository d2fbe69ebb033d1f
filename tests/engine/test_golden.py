"""Golden questions: a drill whose questions change gets a higher ``rev``, so that links and records stay true.

golden.json has the first five questions of each drill as they were when its
``rev`` was given, without their wording, and a fingerprint of a hundred at
each level, of drills about lines also one about a line that came in a link,
of those on a keyboard one on the neck.
After a wanted change: raise ``rev`` in engine/drills/catalogue.py, then write
the file anew from the project's root with

    python3 -m tests.engine.test_golden
"""

import hashlib
import json
import sys
from itertools import islice
from pathlib import Path
from typing import Any

from engine.drills.catalogue import CATALOGUE, Entry, Stream
from engine.drills.options import NECK, Options
from engine.drills.question import Question, as_json
from engine.practice.line_in_link import from_link

GOLDEN = Path(__file__).with_name("golden.json")
RENEW = "python3 -m tests.engine.test_golden"
WORDING = ("prompt", "label", "why")
# As it stands in links that were sent: it is to be read for good.
LINE = (
    "T%3APorch%20light%0AM%3A4/4%0AL%3A1/8%0AK%3AC%0A%22Dm7%22FAcedcBA%7C%22G7%22Bdfagf%5EF%5ED%7C%22Cmaj7%22E8%7C%5D"
)


def _without_wording(question: Question) -> dict[str, Any]:
    found = {name: value for name, value in as_json(question).items() if name not in WORDING}
    choices: Any = found["choices"]
    found["choices"] = [{name: value for name, value in choice.items() if name not in WORDING} for choice in choices]
    if "steps" in found:
        # A choice for every place of a neck, for every step: a fingerprint tells as much.
        found["steps"] = [step["accepts"] for step in found["steps"]]
        found["choices"] = hashlib.sha256(json.dumps(found["choices"]).encode()).hexdigest()[:16]
    return found


def _asked(entry: Entry, options: Options, count: int) -> list[dict[str, Any]]:
    return [_without_wording(question) for question in islice(Stream(entry.slug, options), count)]


def _fingerprint(entry: Entry, options: Options) -> str:
    return hashlib.sha256(json.dumps(_asked(entry, options, 100)).encode()).hexdigest()[:16]


def _now(entry: Entry) -> dict[str, Any]:
    fingerprints = {str(level): _fingerprint(entry, Options(level=level)) for level in (1, 2, 3)}
    if entry.keyboard:
        fingerprints["neck"] = _fingerprint(entry, Options(level=2, on=NECK))
    if entry.takes_line:
        fingerprints["line"] = _fingerprint(entry, Options(level=2, line=from_link(LINE)))
    return {"rev": entry.rev, "first": _asked(entry, Options(), 5), "fingerprints": fingerprints}


def _changed_but_not_raised(kept: dict[str, Any]) -> list[str]:
    return [
        entry.slug for entry in CATALOGUE
        if entry.slug in kept and kept[entry.slug]["rev"] == entry.rev and kept[entry.slug] != _now(entry)
    ]  # fmt: skip


def test_questions_change_only_with_their_rev() -> None:
    kept = json.loads(GOLDEN.read_text(encoding="utf-8"))
    changed = _changed_but_not_raised(kept)
    assert not changed, (
        f"the questions of {', '.join(changed)} have changed: raise rev in engine/drills/catalogue.py and run {RENEW},"
        " or take the change back"
    )
    outdated = [entry.slug for entry in CATALOGUE if kept.get(entry.slug, {}).get("rev") != entry.rev]
    assert not outdated, f"golden.json does not have {', '.join(outdated)} at its rev: run {RENEW}"
    assert set(kept) == {entry.slug for entry in CATALOGUE}, f"golden.json has a drill that is gone: run {RENEW}"


def test_a_change_without_a_higher_rev_is_noticed() -> None:
    slug = CATALOGUE[0].slug
    kept = {slug: json.loads(GOLDEN.read_text(encoding="utf-8"))[slug]}
    assert _changed_but_not_raised(kept) == []
    kept[slug]["first"][0]["choices"].reverse()
    assert _changed_but_not_raised(kept) == [slug]


if __name__ == "__main__":
    before = json.loads(GOLDEN.read_text(encoding="utf-8")) if GOLDEN.exists() else {}
    if not_raised := _changed_but_not_raised(before):
        sys.exit(
            f"the questions of {', '.join(not_raised)} have changed: raise rev in engine/drills/catalogue.py first"
        )
    golden = {entry.slug: _now(entry) for entry in CATALOGUE}
    GOLDEN.write_text(json.dumps(golden, indent=1) + "\n", encoding="utf-8")
    print(f"wrote {GOLDEN.name}")
