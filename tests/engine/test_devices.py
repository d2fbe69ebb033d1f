"""Devices: what a teacher has marked by hand is found, nothing else is, and what only looks like one is left alone."""

from __future__ import annotations

from collections import Counter

import pytest

from engine.formats.abc import read_abc
from engine.lines.devices.recognise import DEVICES, Analysis, analyse
from engine.lines.landing import landing_of
from engine.lines.moving import by_octaves, in_all_keys
from engine.lines.stock import stock
from engine.theory.wording import render
from tests.engine.annotated_lines import DEVICES as MARKED
from tests.engine.annotated_lines import LINES, NEAR_MISSES, Annotated, NearMiss


def analysed(abc: str) -> Analysis:
    (line,) = read_abc(abc)
    return analyse(line)


def found(analysis: Analysis) -> set[tuple[str, int, int]]:
    return {(device.name, device.first, device.last) for device in analysis.devices}


def title(abc: str) -> str:
    return next(line.removeprefix("T:") for line in abc.splitlines() if line.startswith("T:"))


@pytest.mark.parametrize("marked", LINES, ids=lambda marked: title(marked.abc))
def test_a_marked_line_has_exactly_its_devices_and_its_landing(marked: Annotated) -> None:
    analysis = analysed(marked.abc)
    assert found(analysis) == set(marked.devices)
    landing = landing_of(analysis.line)
    assert (landing and (landing.index, landing.degree.name, landing.semitones)) == marked.landing


@pytest.mark.parametrize("miss", NEAR_MISSES, ids=lambda miss: f"{miss.device}, {title(miss.abc)}")
def test_a_near_miss_is_none(miss: NearMiss) -> None:
    assert miss.device not in [device.name for device in analysed(miss.abc).devices], miss.why


def test_the_table_of_precision_and_recall() -> None:
    right, named, marked = Counter[str](), Counter[str](), Counter[str]()
    for line in LINES:
        got, wanted = found(analysed(line.abc)), set(line.devices)
        right.update(name for name, _, _ in got & wanted)
        named.update(name for name, _, _ in got)
        marked.update(name for name, _, _ in wanted)
    for name in MARKED:
        print(f"{name:45} marked {marked[name]:3} named {named[name]:3} right {right[name]:3}")
        assert marked[name] >= 1
    assert right == named == marked


def test_every_device_has_three_near_misses() -> None:
    misses = Counter(miss.device for miss in NEAR_MISSES)
    assert set(MARKED) == set(DEVICES) == set(misses)
    assert min(misses.values()) >= 3


@pytest.mark.parametrize("marked", LINES, ids=lambda marked: title(marked.abc))
def test_devices_are_the_same_in_every_key_and_octave(marked: Annotated) -> None:
    (line,) = read_abc(marked.abc)
    for moved in (*in_all_keys(line), by_octaves(line, 1)):
        assert found(analyse(moved)) == set(marked.devices), moved.key


def test_every_device_says_one_sentence_about_its_own_notes() -> None:
    for line in [*(read_abc(marked.abc)[0] for marked in LINES), *stock()]:
        for device in analyse(line).devices:
            text = render(device.text)
            assert text.endswith(".")
            assert "{" not in text
            assert 0 <= device.first <= device.last < len(line.notes)


def test_the_third_note_of_an_enclosure_over_the_bar_line_is_heard_in_the_next_chord() -> None:
    analysis = analysed('X:1\nL:1/8\nM:4/4\nK:C\n"G7"GABd BGF^D|"Cmaj7"E4 z4|]\n')
    assert [aim and (aim.chord.symbol, aim.degree.name) for aim in analysis.aims][-3:] == [
        ("Cmaj7", "11"), ("Cmaj7", "#9"), None,
    ]  # fmt: skip


def test_a_minor_third_over_a_dominant_is_named_by_where_it_goes() -> None:
    up = analysed('X:1\nL:1/8\nM:4/4\nK:C\n"C7"C_E=EG z4|]\n').notes[1]
    down = analysed('X:1\nL:1/8\nM:4/4\nK:C\n"C7"C_E_DC z4|]\n').notes[1]
    assert (up.degree.name, up.naming.also[0].name) == ("b3", "#9")
    assert down.degree.name == "#9"


@pytest.mark.parametrize(("following", "named"), [("Dmaj7", True), ("Dm7", False), ("Dm6", False), ("Bbm7", True)])
def test_what_harmonic_minor_has_too_is_no_altered_run_before_a_minor_chord(following: str, named: bool) -> None:
    line = f'X:1\nL:1/8\nM:4/4\nK:D\n"A7"_BA G=F "{following}"A4|]\n'
    assert ("altered run" in [device.name for device in analysed(line).devices]) == named


@pytest.mark.parametrize(
    ("music", "at_home"),
    [
        ('"C7"e2 _e2 c4|"F7"c8|"C7"c8|]', True),
        ('"C7"e2 _e2 c4|"Fmaj7"c8|]', False),  # the dominant of F
        ('"C7"c8|"F7"A2 _A2 F4|"C7"c8|]', False),  # over the IV
        ('"C7"e2 _d2 g4|"F7"c8|"C7"c8|]', False),  # the flat nine
    ],
)
def test_a_sharp_nine_is_at_home_over_the_first_chord_of_a_blues_and_pulls_elsewhere(music: str, at_home: bool) -> None:
    devices = analysed(f"X:1\nL:1/8\nM:4/4\nK:C\n{music}\n").devices
    (text,) = (render(device.text) for device in devices if device.name.endswith("-nine colour"))
    assert ("at home" in text) == at_home
    assert ("wants to resolve" in text) != at_home


def test_a_run_over_two_chords_goes_through_their_scales() -> None:
    def text(music: str) -> str:
        devices = analysed(f"X:1\nL:1/8\nM:4/4\nK:C\n{music}\n").devices
        return next(render(device.text) for device in devices if device.name == "scale run")

    assert "the scale of Dm7, down" in text('"Dm7"f2 AB cB AG|]')
    assert "the scales of Dm7 and G7, down" in text('"Dm7"F2 AF cB AG|"G7"F2 D2 B,2 z2|]')


def test_a_held_tone_is_never_called_a_resolution() -> None:
    held = analysed('X:1\nL:1/4\nM:4/4\nK:C\n"Dm7"DFAc-|"G7"c4|]\n')
    text = (
        next(render(device.text) for device in held.devices if device.name.startswith("landing") or "11" in device.name)
        if any(device.name.startswith("landing") for device in held.devices)
        else ""
    )
    landing = landing_of(held.line)
    assert landing is not None
    assert landing.semitones == 0
    assert "resol" not in text


def test_moving_keeps_every_sound_and_every_beat() -> None:
    for line in stock():
        # A tone that would take two flats is written on the letter below: its degree may read as a sharp one.
        degrees = [heard.degree.semitones % 12 for heard in analyse(line).notes]
        for moved in in_all_keys(line):
            assert [heard.degree.semitones % 12 for heard in analyse(moved).notes] == degrees, moved.key
            assert [note.start for note in moved.notes] == [note.start for note in line.notes]
            distances = {new.pitch.midi - old.pitch.midi for new, old in zip(moved.notes, line.notes, strict=True)}
            assert len(distances) == 1
            assert abs(distances.pop()) <= 6
