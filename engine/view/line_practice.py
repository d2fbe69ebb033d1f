"""A line taken through the keys on the neck: one shape moved, or every key within five frets."""

from __future__ import annotations

from collections.abc import Sequence

from engine.lines.devices.recognise import Analysis
from engine.lines.line import Line
from engine.lines.moving import keys_of, moved_to
from engine.lines.reading import read_line
from engine.neck.instrument import Instrument
from engine.neck.sentences import nth_position
from engine.practice.fingered import REGION, Fingered, InKey, moved_shape, within_frets
from engine.practice.settings import Settings
from engine.theory.wording import Profile, Text, say
from engine.view.engraving import Tab, engraving_html
from engine.view.line_fields import select
from engine.view.markup import plain, section, words

SHAPE, REGION_WISE = "shape", "frets"
_WAYS = {SHAPE: "One shape, moved", REGION_WISE: "Twelve keys within five frets"}
EMPTY = '<div id="practised"></div>'

_CAUTION = (
    "Rest between keys, and stop at pain or numbness. A wide stretch low on the neck can wait. For what hurts, ask a "
    "teacher or a clinician rather than a web page."
)
_NOT_PLAYED = "Here is no way to practise yet: the line does not lie on this neck."
_FRETS = "Each key within frets {low} to {high}"
_ONE_SHAPE = "The same strings and fingers in every key"


def practise_html(found: Fingered, low: int, profile: Profile) -> str:
    """The section to choose from; what is chosen comes into ``#practised``."""
    if found.chosen is None:
        return ""
    caution = words(_CAUTION, profile)
    body = f'<p class="caution">{caution}</p>{practise_ways_html(found, low, "", profile)}{EMPTY}'
    return section("practise", "Practise it", body, profile)


def practise_ways_html(found: Fingered, low: int, chosen: str, profile: Profile) -> str:
    """The ways to practise: which of them is ``chosen``, if any, and from which fret on."""
    frets = [(str(fret), str(fret)) for fret in range(1, found.instrument.frets - REGION + 2)]
    ways = "".join(
        f'<button type="button" name="practise" value="{how}" aria-pressed="{"true" if how == chosen else "false"}">'
        f"{words(label, profile)}</button>"
        for how, label in _WAYS.items()
    )
    select_low = select("from", words("From fret", profile), frets, str(low))
    return f'<div class="buttons choose" id="practise-ways">{ways}{select_low}</div>'


def practised_html(found: Fingered, how: str, low: int, settings: Settings, profile: Profile) -> str:
    """The line in twelve keys, round the cycle of fourths from its own, as TAB."""
    if found.chosen is None:
        return f'<div id="practised"><p>{words(_NOT_PLAYED, profile)}</p></div>'
    lines = _in_keys(found.line)
    rows = moved_shape(found, lines) if how == SHAPE else within_frets(lines, settings, low)
    title = plain(practised_text(how, low, settings), profile)
    items = "".join(_item(row, number, found.instrument, profile) for number, row in enumerate(rows, 1))
    return f'<div id="practised"><h3>{title}</h3><ol class="in-keys">{items}</ol></div>'


def practised_text(how: str, low: int, settings: Settings) -> Text:
    """What was chosen, in a few words."""
    return (
        say(_ONE_SHAPE) if how == SHAPE else say(_FRETS, low=low, high=min(low + REGION - 1, settings.instrument.frets))
    )


def _in_keys(line: Line) -> Sequence[Line]:
    keys = keys_of(line.key.mode)
    own = next(number for number, key in enumerate(keys) if key.tonic.pitch_class == line.key.tonic.pitch_class)
    return [line, *(moved_to(line, key) for key in (*keys[own + 1 :], *keys[:own]))]


def _item(row: InKey, number: int, instrument: Instrument, profile: Profile) -> str:
    name = f"<b>{words('In {key}', profile, key=row.line.key)}</b>"
    told = f" <span>{plain(row.text, profile)}</span>" if row.text else ""
    if not row.places:
        return f"<li>{name}{told}</li>"
    where = plain(nth_position(row.position), profile)
    notes = read_line(row.line)
    analysis = Analysis(row.line, notes, (None,) * len(notes), ())
    tab = Tab(len(instrument.strings), row.places)
    figure = engraving_html(analysis, f"in-key-{number}", profile, tab=tab, staff=False)
    return f"<li>{name} <span>{where}</span>{told}{figure}</li>"
