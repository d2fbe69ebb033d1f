"""Tapping a line in: what was tapped stands on the sleeve, and on the paper a keyboard that says each key's degree.

Every part says from which facts it is made, so that only the parts whose facts have changed are made anew.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from typing import Any

from engine.formats.bars import bar_number
from engine.formats.text import beat_in_bar, number_text
from engine.lines.devices.recognise import Analysis, analyse
from engine.lines.line import Line
from engine.practice.entry import LENGTHS, METERS, Entry, Played, begin_of, entry_as_json, is_pickup, line_of, played
from engine.practice.own_lines import OwnLine
from engine.theory.bad_input import BadInput
from engine.theory.chord import KINDS, Chord, chord_of
from engine.theory.chord_symbol import parse_chord
from engine.theory.following import following
from engine.theory.key import MAJOR_KEYS, MINOR_KEYS, Key, parse_key
from engine.theory.naming import name_over
from engine.theory.spelling import spelled
from engine.theory.wording import USUAL, Profile
from engine.view.line_fields import button, said_fields_html, select
from engine.view.marks import SHAPES
from engine.view.markup import as_data, escape, plain, prose, words
from engine.view.tapped_bars import bars_html, note_sign

LOWEST, HIGHEST = 24, 96  # the lowest C that a row of keys may start on, and the highest
USUAL_LOW = 60  # C4
ROWS = 2
BLACK = (1, 3, 6, 8, 10)
MOST_CHORDS = 8
EMPTY = Entry()


@dataclass(frozen=True)
class Board:
    """What the page of an entry shows: the ``entry``, the lowest key on it, a chord as far as it was typed.

    ``taken`` is what was typed and taken already. ``own`` is the own line that is tapped on, None for a new one;
    ``about`` a line of which something is said already.
    """

    entry: Entry = EMPTY
    low: int = USUAL_LOW
    typed: str = ""
    taken: str = ""
    own: OwnLine | None = None
    about: Line | None = None

    @cached_property
    def now(self) -> Played:
        """What the taps add up to."""
        return played(self.entry)

    @cached_property
    def analysis(self) -> Analysis | None:
        """The line so far, understood; None as long as it has no note."""
        line = line_of(self.entry)
        return analyse(line) if line else None


def entry_form_html(board: Board, profile: Profile = USUAL, needs: str = "") -> str:
    """The whole form; it ``needs`` the own lines only until it is opened on one of them."""
    made = {name: part.html(board, profile) for name, part in PARTS.items()}
    state = as_data(state_of(board))
    return (
        f'<form class="desk entry" id="entry" data-desk="{state}" data-needs="{needs}" autocomplete="off">'
        f'<div class="sleeve"><h1 class="unseen">{words("Tap a line in", profile)}</h1>{made["entry-line"]}</div>'
        '<div class="paper">'
        f"{made['entry-chords']}{made['entry-lengths']}{made['entry-keys']}{made['entry-moves']}"
        # Enter in a field presses this one where no chord on offer is the one that is typed.
        f"{about_html(board, profile)}{made['entry-devices']}</div>"
        '<button type="submit" class="unseen" tabindex="-1" aria-hidden="true"></button></form>'
    )


def state_of(board: Board) -> dict[str, Any]:
    """What the form keeps between two taps; ``engine.view.entry_desk`` reads it."""
    return {
        "do": "entry",
        "entry": entry_as_json(board.entry),
        "low": board.low,
        "typed": board.typed,
        "taken": board.taken,
        "of": [board.own.id, board.own.at, board.own.abc] if board.own else None,
    }


def changed_parts(before: Board, after: Board, profile: Profile = USUAL) -> dict[str, str]:
    """The HTML of the parts that are not as they were, by their id."""
    return {name: part.html(after, profile) for name, part in PARTS.items() if part.facts(before) != part.facts(after)}


# --- the sleeve -------------------------------------------------------------------


def _line(board: Board, profile: Profile) -> str:
    entry, now = board.entry, board.now
    chord = now.chord
    if chord is None:
        hint = words("Choose the first chord. Then every key says what it is over it.", profile)
        large = f'<p class="invitation">{words("Tap a line in", profile)}</p>'
        return f'<div id="entry-line"><p class="now">{large}</p><p class="begin">{hint}</p></div>'
    at = now.at + begin_of(entry, now)
    place = words(
        "bar {bar}, beat {beat}", profile,
        bar=bar_number(entry.meter, at), beat=number_text(beat_in_bar(entry.meter, at)),
    )  # fmt: skip
    bars = bars_html(board.analysis, profile) if board.analysis else ""
    hint = "" if bars else f'<p class="begin">{words("Now its notes, an eighth each unless you choose.", profile)}</p>'
    return (
        f'<div id="entry-line"><p class="now"><span class="chord">{plain(chord, profile)}</span>'
        f' <span class="where">{place}</span></p>{hint}<div class="bars" tabindex="0">{bars}</div>'
        f'<p class="says">{_latest(board.analysis, profile)}</p></div>'
    )


def _latest(analysis: Analysis | None, profile: Profile) -> str:
    """The sentence of the device that was completed last, if any; where several were, of the one that began last."""
    devices = analysis.devices if analysis else ()
    latest = max(devices, key=lambda found: (found.last, devices.index(found)), default=None)
    return prose(latest.text, profile) if latest else ""


# --- what is tapped ---------------------------------------------------------------


def _chords(board: Board, profile: Profile) -> str:
    # Enter presses the form's first submit button: the chord as it was typed.
    buttons = "".join(
        f'<button type="{"submit" if one.symbol == board.typed else "button"}" name="chord"'
        f' value="{escape(one.symbol)}">{plain(one, profile)}</button>'
        for one in offered(board.now.chord, board.entry.key, board.typed)
    )
    label = words("Chord", profile)
    return (
        '<div id="entry-chords"><input id="chord" name="typed" type="text" data-live maxlength="40"'
        f' value="{escape(board.typed)}" placeholder="{label}" aria-label="{label}" autocapitalize="on"'
        ' spellcheck="false" enterkeyhint="done">'
        f'<div class="offered" role="group" aria-label="{words("Chords", profile)}">{buttons}</div></div>'
    )


def offered(chord: Chord | None, key: Key, typed: str) -> tuple[Chord, ...]:
    """The chords to choose from: what was typed and what its root may be, else what usually follows."""
    try:
        own = parse_chord(typed)
    except BadInput:
        return following(chord, key, MOST_CHORDS)
    kinds = [chord_of(own.root, kind) for kind in list(KINDS) if chord_of(own.root, kind).symbol.startswith(typed)]
    return tuple({one.symbol: one for one in (own, *kinds)}.values())[:MOST_CHORDS]


def _lengths(board: Board, profile: Profile) -> str:
    buttons = "".join(
        f'<button type="button" name="length" value="{value}" aria-label="{words(name, profile)}"'
        f' aria-pressed="{"true" if Fraction(value) == board.now.length else "false"}">{note_sign(value)}</button>'
        for value, name in LENGTHS.items()
    )
    return f'<div id="entry-lengths" role="group" aria-label="{words("Length", profile)}">{buttons}</div>'


def _keys(board: Board, profile: Profile) -> str:
    chord, key = board.now.chord, board.entry.key
    rows = "".join(_octave(board.low + 12 * row, chord, key, profile) for row in reversed(range(ROWS)))
    return f'<div id="entry-keys">{rows}</div>'


def _octave(low: int, chord: Chord | None, key: Key, profile: Profile) -> str:
    keys = "".join(_key(midi, chord, key, profile) for midi in range(low, low + 12))
    label = words("from C{octave}", profile, octave=low // 12 - 1)
    return f'<div class="octave" role="group" aria-label="{label}">{keys}</div>'


def _key(midi: int, chord: Chord | None, key: Key, profile: Profile) -> str:
    """A key with its degree over the chord and its note; the mark of its role stands beside that."""
    kind = "black" if midi % 12 in BLACK else "white"
    if chord is None:
        note = spelled(midi, chord_of(key.tonic, "maj"), key)
        degree, shape = "", ""
    else:
        note = spelled(midi, chord, key)
        naming = name_over(chord, note)
        degree, shape = f"<b>{plain(naming.degree, profile)}</b>", f" {SHAPES[naming.role]}"
    # The C of each row says which octave it is.
    name = plain(note if midi % 12 == 0 else note.in_octave(None), profile)
    return (
        f'<button type="button" name="note" value="{midi}" class="{kind}{shape}">{degree}<span>{name}</span></button>'
    )


def _moves(board: Board, profile: Profile) -> str:
    tapped, undone, low = bool(board.entry.events), bool(board.entry.undone), board.low
    rows = (
        ("rest", "", "Rest", True), ("longer", "", "Hold", tapped), ("undo", "", "Undo", tapped),
        ("redo", "", "Redo", undone), ("low", str(low - 12), "Lower", low > LOWEST),
        ("low", str(low + 12), "Higher", low < HIGHEST),
    )  # fmt: skip
    buttons = "".join(button(name, words(label, profile), value, able=able) for name, value, label, able in rows)
    pickup = words("So far it is a pickup: bar 1 starts here", profile)
    extra = button("bar", pickup, kind="wide") if is_pickup(board.entry) else ""
    keep = button("keep", words("Keep this line", profile), kind="keep")
    return f'<div id="entry-moves"><div class="moves">{buttons}</div>{keep}{extra}</div>'


def _devices(board: Board, profile: Profile) -> str:
    items = "".join(
        f'<li><span class="says"><b>{words(found.name, profile)}</b> {prose(found.text, profile)}</span></li>'
        for found in (board.analysis.devices if board.analysis else ())
    )
    if not items:
        return '<div id="entry-devices"></div>'
    return f'<div id="entry-devices"><h2>{words("What it does", profile)}</h2><ul class="devices">{items}</ul></div>'


@dataclass(frozen=True, slots=True)
class Part:
    """A part of the page: its HTML, and the facts that it is made from."""

    html: Callable[[Board, Profile], str]
    facts: Callable[[Board], tuple[Any, ...]]


PARTS: Mapping[str, Part] = {
    "entry-line": Part(_line, lambda board: (board.entry,)),
    "entry-chords": Part(_chords, lambda board: (board.now.chord, board.entry.key, board.typed)),
    "entry-lengths": Part(_lengths, lambda board: (board.now.length,)),
    "entry-keys": Part(_keys, lambda board: (board.now.chord, board.entry.key, board.low)),
    "entry-moves": Part(
        _moves,
        lambda board: (bool(board.entry.events), bool(board.entry.undone), board.low, is_pickup(board.entry)),
    ),
    "entry-devices": Part(_devices, lambda board: (board.entry.events, board.entry.key, board.entry.meter)),
}


# --- what is said of the line ------------------------------------------------------


def about_html(board: Board, profile: Profile = USUAL) -> str:
    """Key and meter, and what is said of the line; these fields are the player's, so taps leave them alone."""
    keys = [(name, plain(parse_key(name), profile)) for name in (*MAJOR_KEYS, *MINOR_KEYS)]
    own = str(board.entry.key)
    if own not in dict(keys):
        keys.append((own, plain(board.entry.key, profile)))
    meters = [(name, name) for name in dict.fromkeys((*METERS, str(board.entry.meter)))]
    return (
        f'<details id="entry-about"{" open" if board.about else ""}>'
        f"<summary>{words('Title, source, key, meter', profile)}</summary>{said_fields_html(board.about, profile)}"
        f"{select('key', words('Key', profile), keys, own)}"
        f"{select('meter', words('Meter', profile), meters, str(board.entry.meter))}</details>"
    )
