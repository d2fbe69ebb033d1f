"""Settings: what was kept comes back, and nothing that was kept can break a page."""

from __future__ import annotations

import json
from itertools import product

import pytest

from engine.neck.instrument import FRETS, GUITAR, INSTRUMENTS, Instrument, instrument_of, tuned, tuning_of
from engine.practice.settings import AS_IT_CAME, Settings, read_settings, settings_as_json

OPEN_FOURTHS = tuned("E2,A2,D3,G3,C4,F4", 19)


def test_nothing_kept_is_as_it_came() -> None:
    assert read_settings(None) == AS_IT_CAME == Settings(GUITAR, left_handed=False, stretch=5)


@pytest.mark.parametrize("instrument", [*INSTRUMENTS.values(), OPEN_FOURTHS], ids=lambda one: one.name)
def test_what_is_kept_comes_back(instrument: Instrument) -> None:
    every = product((instrument.frets, FRETS[0], FRETS[-1]), (False, True), (3, 4, 5), (False, True), (0, 180, 500))
    for frets, left, stretch, quiet, late in every:
        settings = Settings(instrument_of(tuning_of(instrument), frets), left, stretch, quiet, late)
        kept = json.loads(json.dumps(settings_as_json(settings)))
        assert list(kept) == ["v", "tuning", "frets", "left", "stretch", "quiet", "late"]
        assert read_settings(kept) == settings


def test_what_was_kept_before_there_was_sound_to_set_still_counts() -> None:
    found = {"v": 1, "tuning": "bass", "frets": 21, "left": True, "stretch": 4, "built": False}
    assert read_settings(found) == Settings(instrument_of("bass", 21), True, 4, quiet=False, late=0)


@pytest.mark.parametrize(
    ("settings", "as_built"),
    [
        (AS_IT_CAME, True), (Settings(left_handed=True, quiet=True, late=200), True),
        (Settings(instrument_of("guitar", 24)), False), (Settings(stretch=4), False),
    ],
)  # fmt: skip
def test_only_neck_and_stretch_make_the_built_pages_wrong(settings: Settings, as_built: bool) -> None:
    assert settings.is_as_built == as_built


def test_strings_that_are_an_instruments_have_its_name() -> None:
    assert read_settings({"v": 1, "tuning": "E1,A1,D2,G2"}).instrument == instrument_of("bass", 22)
    assert tuning_of(GUITAR) == "guitar"
    assert tuning_of(OPEN_FOURTHS) == "E2,A2,D3,G3,C4,F4"


@pytest.mark.parametrize(
    "found",
    [
        None, 3, "guitar", [], {}, {"v": 1}, {"tuning": "ukulele"}, {"tuning": None, "frets": None}, {"tuning": ["E2"]},
        {"frets": 3}, {"frets": 10**9}, {"frets": True}, {"frets": "24"}, {"frets": 22.0}, {"left": 1}, {"left": "yes"},
        {"stretch": 2}, {"stretch": 6}, {"stretch": True}, {"stretch": [5]}, {"stretch": "3"}, {"stretch": None},
        {"quiet": 1}, {"quiet": "yes"}, {"late": -1}, {"late": 501}, {"late": True}, {"late": "180"}, {"late": 180.0},
    ],
    ids=repr,
)  # fmt: skip
def test_what_cannot_be_read_is_as_it_came(found: object) -> None:
    assert read_settings(found) == AS_IT_CAME


def test_what_can_be_read_beside_it_counts() -> None:
    found = {"v": 1, "tuning": "bass", "frets": "many", "left": True, "stretch": 9}
    assert read_settings(found) == Settings(INSTRUMENTS["bass"], left_handed=True)
    found = {"v": 1, "tuning": "E2", "frets": 24, "left": None, "stretch": 3}
    assert read_settings(found) == Settings(instrument_of("guitar", 24), stretch=3)
