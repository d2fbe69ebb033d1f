"""Shifts over the line book beside the tablature that abcjs makes by itself, and beside two simple ways.

abcjs draws in a browser's page; string and fret of each note are read from what it made. It is a development
tool here and no part of the site.
"""

from __future__ import annotations

import sys
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from random import Random
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

import bench_pages as pages
import toolchain
from bench_figures import Figure
from bench_lines import line_of
from bench_neck import on
from playwright.sync_api import Page, Playwright
from shift_counting import fewest_of_all, fewest_shifts, lowest_frets, nearest_frets

from engine.formats.abc import read_abc, write_abc
from engine.lines.line import Line
from engine.lines.moving import by_octaves, in_all_keys
from engine.neck.fingering import ways
from engine.neck.instrument import GUITAR, Instrument, Place
from engine.theory.pitch import Pitch, parse_pitch

ABCJS = Path(__file__).resolve().parents[2] / "node_modules" / "abcjs" / "dist" / "abcjs-basic-min.js"
ENGINE, TABLATURE = "engine", "abcjs"
# A note is what the tablature has for it: [string from the top counted from 0, fret], or null.
DRAW = """(tunes) => tunes.map((abc) => {
  const place = document.createElement("div");
  document.body.append(place);
  const [tune] = ABCJS.renderAbc(place, abc, { tablature: [{ instrument: "guitar" }] });
  place.remove();
  const staves = (tune.lines ?? []).flatMap(({ staff }) => staff ?? []).filter(({ clef }) => clef?.type === "TAB");
  const notes = staves.flatMap(({ voices }) => voices[0]).filter(({ el_type: kind }) => kind === "note");
  return notes.map(({ notes: [first] }) => (first ? [first.str, first.num] : null));
})"""
SHORT, DRAWN = 9, 40  # notes of a line on which every placement is tried, and how many such lines


@dataclass(frozen=True)
class Compared:
    """Shifts by the name of who fingered, over so many lines; how many were left out, and on how many one is better."""

    shifts: Mapping[str, int]
    lines: int
    left_out: int
    beaten: int


def figures(playwright: Playwright, book: Path) -> list[Figure]:
    """The lines of the table."""
    found = [line for path in sorted(book.glob("*.abc")) for line in read_abc(path.read_text(encoding="utf-8"))]
    lines = [on(GUITAR, moved) for line in found for moved in in_all_keys(line)]
    browser = playwright.chromium.launch(executable_path=toolchain.browser(), args=pages.FLAGS)
    try:
        result = compared(lines, tablature(browser.new_page(), lines))
    finally:
        browser.close()
    what = f"the book in twelve keys ({result.lines} lines)"
    return [
        *(Figure(f"shifts over {what}, {who}", (count,), "") for who, count in result.shifts.items()),
        Figure("lines that are not compared, because abcjs has other pitches", (result.left_out,), ""),
        Figure("lines of these on which another has fewer shifts than the engine", (result.beaten,), "", at_most=0),
        Figure(
            f"lines of {SHORT} notes at random, of {DRAWN}, on which some placement has fewer shifts than the engine's",
            (sum(best < found for best, found in of_all()),), "", at_most=0,
        ),
    ]  # fmt: skip


def tablature(page: Page, lines: Sequence[Line]) -> list[tuple[Place, ...] | None]:
    """Where abcjs puts every note of each line, drawn in an empty page; None where it has others than the line's."""
    if not ABCJS.exists():
        raise SystemExit("abcjs is not installed: run `python3 build.py bench`, which sets it up")
    page.add_script_tag(path=ABCJS)
    # It takes what it reads for guitar music as it is written, an octave above its sound.
    drawn = page.evaluate(DRAW, [write_abc(by_octaves(line, 1)) for line in lines])
    return [places_of(notes, line) for notes, line in zip(drawn, lines, strict=True)]


def places_of(notes: Sequence[Any], line: Line, instrument: Instrument = GUITAR) -> tuple[Place, ...] | None:
    """What was read from a tablature as places; None where these are not the pitches of the line, one for one."""
    pairs = [note for note in notes if note is not None]
    if len(pairs) != len(line.notes) or not all(isinstance(number, int) for pair in pairs for number in pair):
        return None
    places = tuple(Place(string + 1, fret) for string, fret in pairs)
    there = all(place in instrument.places(note.pitch.midi) for place, note in zip(places, line.notes, strict=True))
    return places if there else None


def compared(
    lines: Sequence[Line], drawn: Sequence[tuple[Place, ...] | None], instrument: Instrument = GUITAR
) -> Compared:
    """The shifts of four ways to finger the lines, counted alike, where there is a tablature."""
    shifts = dict.fromkeys((ENGINE, TABLATURE, "lowest frets", "nearest frets"), 0)
    beaten = 0
    both = [(line, places) for line, places in zip(lines, drawn, strict=True) if places is not None]
    for line, places in both:
        of_line = {
            ENGINE: fewest_shifts(ways(line, instrument)[0].places),
            TABLATURE: fewest_shifts(places),
            "lowest frets": fewest_shifts(lowest_frets(line, instrument)),
            "nearest frets": fewest_shifts(nearest_frets(line, instrument)),
        }
        beaten += min(of_line.values()) < of_line[ENGINE]
        for who, count in of_line.items():
            shifts[who] += count
    return Compared(shifts, len(both), len(lines) - len(both), beaten)


def of_all(instrument: Instrument = GUITAR) -> list[tuple[int, int]]:
    """For lines of random notes: the fewest shifts of all placements, and those of the engine's first way."""
    found = []
    for seed in range(DRAWN):
        draw = Random(seed).random
        pattern = line_of(SHORT)
        midis = [instrument.lowest + int(draw() * (instrument.highest - instrument.lowest + 1)) for _ in pattern.notes]
        notes = [replace(note, pitch=_pitch(midi)) for note, midi in zip(pattern.notes, midis, strict=True)]
        line = replace(pattern, notes=tuple(notes))
        found.append((fewest_of_all(line, instrument), ways(line, instrument)[0].shifts))
    return found


def _pitch(midi: int) -> Pitch:
    names = ("C", "C#", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")
    return parse_pitch(f"{names[midi % 12]}{midi // 12 - 1}")
