"""Links as no one would write them: whatever stands behind #, a page gets a round that can be played, or one sentence.

`LINEKEEPER_FUZZ=100000` asks for that many; a test run by itself takes a sample. The links are the same each time.
"""

import json
import os
import random
import re
import time

import pytest
from fuzzing import link

from engine import browser
from engine.drills.catalogue import BY_SLUG
from engine.practice.rounds import MIXED

LINKS = int(os.environ.get("LINEKEEPER_FUZZ", "2000"))
DRILLS = (*BY_SLUG, MIXED)
# Of work, not of waiting: a busy machine is no fault of the engine.
SECONDS_A_LINK = 2.0

# In text that came from a link none of these may be markup: they would be a script. Data attributes hold any text.
RUNNING = re.compile(r"<\s*(script|iframe|object|embed|img|base|meta|link)\b|<[^>]*\son\w+\s*=|<[^>]*javascript:", re.I)
DATA = re.compile(r'\sdata-[a-z]+="[^"<>]*"')


def fault(answer: str, round_of_old: dict[str, str]) -> str | None:
    """What is wrong with an answer, or None."""
    found = json.loads(answer)
    if "error" in found:
        return f"refused: {found['error']}"
    text = found["notice"] or ""
    if not text.isprintable() or (text and not text.endswith(".")):
        return f"not a sentence: {text!r}"
    if "Traceback" in text or "object at 0x" in text:
        return f"the engine's own words: {text!r}"
    running = RUNNING.search(DATA.sub("", found["html"]))
    if running:
        return f"runs: {running[0]!r}"
    if not found["plan"]["indexes"] or found["html"].count('class="question') < 1:
        return "nothing to play"
    if round_of_old.setdefault(json.dumps(found["plan"]), found["html"]) != found["html"]:
        return "the same plan gave another round"
    return None


def test_no_fuzzed_link_breaks_the_engine(capsys: pytest.CaptureFixture[str]) -> None:
    chance = random.Random(20260101)
    seen: dict[str, str] = {}
    noticed, slowest, begun = 0, (0.0, ""), time.perf_counter()
    for number in range(LINKS):
        drill, text = DRILLS[number % len(DRILLS)], link(chance)
        start = time.thread_time()
        # A count from the link may be large and is allowed to be; what takes long is not what is tested here.
        request = {"do": "open", "drill": drill, "link": text, "count": 1, "seed": number}
        answer = browser.call(json.dumps(request))
        slowest = max(slowest, (time.thread_time() - start, f"{drill}, link {number}, {text!r}"))
        wrong = fault(answer, seen)
        assert wrong is None, f"{drill}, link {number}, {text!r}: {wrong}"
        noticed += json.loads(answer)["notice"] is not None
        if len(seen) > 2000:
            seen.clear()
    took = time.perf_counter() - begun
    with capsys.disabled():
        print(f"\n{LINKS} fuzzed links in {took:.1f} s, slowest {slowest[0] * 1000:.0f} ms, {noticed} with a notice")
    assert slowest[0] < SECONDS_A_LINK, slowest[1]
    # Most of them have something to be told; were there none, the links would not reach the engine.
    assert noticed > LINKS / 3


@pytest.mark.parametrize(
    ("answer", "why"),
    [
        ('{"error": "no"}', "refused"),
        ('{"notice": "<b", "html": "", "plan": {"indexes": [0]}}', "not a sentence"),
        ('{"notice": "Traceback.", "html": "", "plan": {"indexes": [0]}}', "the engine's own words"),
        ('{"notice": null, "html": "<p><script>", "plan": {"indexes": [0]}}', "runs"),
        ('{"notice": null, "html": "<a title=\'x\' onclick=y>", "plan": {"indexes": [0]}}', "runs"),
        ('{"notice": null, "html": "<p data-x=\\"\\" onload=y>", "plan": {"indexes": [0]}}', "runs"),
        ('{"notice": null, "html": "", "plan": {"indexes": []}}', "nothing to play"),
    ],
)
def test_a_fault_would_be_seen(answer: str, why: str) -> None:
    assert (fault(answer, {}) or "").startswith(why)
