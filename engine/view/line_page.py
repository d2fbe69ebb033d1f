"""A line's page: its staff and chords on the sleeve, what it does and what can be done with it on the paper."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from engine.drills.catalogue import CATALOGUE
from engine.drills.question import Shape
from engine.formats.bars import bar_number
from engine.formats.text import beat_in_bar, number_text
from engine.lines.devices.device import Found
from engine.lines.devices.recognise import Aim, Analysis, analyse
from engine.lines.line import Line
from engine.lines.moving import keys_of
from engine.lines.reading import Heard
from engine.neck.easier import Saving
from engine.neck.instrument import Place
from engine.practice.fingered import Fingered
from engine.practice.line_in_link import handed_on, to_link
from engine.practice.reached import reached
from engine.practice.rounds import asks_about
from engine.practice.shown_line import Shown, as_state
from engine.theory.arpeggio import chord_in_thirds
from engine.theory.bad_input import BadInput
from engine.theory.degree import Degree
from engine.theory.wording import USUAL, Profile
from engine.view.engraving import engraving_html
from engine.view.glyphs import definitions
from engine.view.hearing import hear_section_html
from engine.view.line_fields import use_html
from engine.view.line_neck import beside_staff_html, neck_section_html, shape_neck_svg, tab_of, tapped_html
from engine.view.line_practice import practise_html
from engine.view.markup import as_data, escape, plain, prose, section, words
from engine.view.picture import svg
from engine.view.quiet import kind_of, left_out_html
from engine.view.shape import shape_pictures

FORMATS = {"abc": "ABC", "musicxml": "MusicXML", "midi": "MIDI"}
_FROM_THE_THIRD = "arpeggio from the third"
_STACK = (3, 5, 7, 9)


def line_form_html(
    page: Shown, profile: Profile = USUAL, better: Sequence[Saving] | None = (), records: Iterable[Any] = ()
) -> str:
    """The page's form: everything on the page that follows the key, the next chord and the way.

    ``better``: what would lie better, None where that is not known yet. ``records``: they tell the tempos reached.
    """
    seen = _Seen(page, analyse(page.line), page.fingered, better, reached(records, page.line))
    parts = (_hear, _keys, _next, _devices, _neck, _shapes, _practise, _drills, _handing_on, _table)
    return (
        f'<form class="desk line" id="line" autocomplete="off" data-needs="own" data-quiet'
        f' data-desk="{as_data(as_state(page))}">'
        f"{definitions()}{_sleeve(seen, profile)}"
        f'<div class="paper">{"".join(part(seen, profile) for part in parts)}</div></form>'
    )


@dataclass(frozen=True, slots=True)
class _Seen:
    """A page, and what is found out about its line."""

    page: Shown
    analysis: Analysis
    fingered: Fingered
    better: Sequence[Saving] | None
    marks: Mapping[str, int]


def _neck(seen: _Seen, profile: Profile) -> str:
    return neck_section_html(seen.fingered, seen.page.neck, seen.analysis, seen.better, profile)


def _hear(seen: _Seen, profile: Profile) -> str:
    return hear_section_html(seen.page.line, seen.page.hearing, profile, seen.marks)


def _practise(seen: _Seen, profile: Profile) -> str:
    return practise_html(seen.fingered, seen.page.neck.low, profile)


def _sleeve(seen: _Seen, profile: Profile) -> str:
    page = seen.page
    title = escape(page.line.title) or words("A line", profile)
    # What is said of the line as it is written may not be true over another chord.
    key = page.line.key
    use = words("In {key}", profile, key=key) if page.following else use_html(page.written, key, profile)
    if page.line.source:
        use = f"{use}<br>{words('Taken from {source}', profile, source=page.line.source)}"
    written = words("As it is written:", profile) + " " if page.following and page.line.remarks else ""
    remarks = "".join(f'<p class="lead">{written}{escape(remark)}</p>' for remark in page.line.remarks)
    looking = words("What you keep for this line is being fetched. What you tap now counts.", profile)
    task = words("Write the degree under each note, and what each bracket does.", profile)
    return (
        f'<div class="sleeve"><div><h1>{title}</h1><p class="use">{use}</p>{remarks}'
        f'<p class="looking" role="status">{looking}</p>'
        f"{engraving_html(seen.analysis, 'staff', profile, tab=tab_of(seen.fingered, page.neck))}"
        f"{beside_staff_html(seen.fingered, profile)}"
        f'{tapped_html(seen.fingered, page.neck, profile)}<p class="task">{task}</p></div></div>'
    )


def _keys(seen: _Seen, profile: Profile) -> str:
    page = seen.page
    keys = [(str(key), plain(key.tonic, profile)) for key in keys_of(page.written.key.mode)]
    mine = str(page.line.key)
    if mine not in dict(keys):  # a line may be written in C sharp
        keys.append((mine, plain(page.line.key.tonic, profile)))
    name = "Key" if page.written.key.mode == "major" else "Minor key"
    return _chips("key", words(name, profile), keys, mine)


def _next(seen: _Seen, profile: Profile) -> str:
    page = seen.page
    chords = [(chord.symbol, plain(chord, profile)) for chord in page.offers]
    chosen = page.line.changes[-1].chord.symbol if len(page.line.changes) > 1 else ""
    told = prose(page.text, profile) if page.text else words("Take another chord: the landing follows.", profile)
    return (
        f"{_chips('next', words('Next chord', profile), chords, chosen)}"
        f'<p class="typed"><label for="other">{words("Or type one", profile)}</label>'
        '<input id="other" name="other" type="text" maxlength="40" autocapitalize="off" spellcheck="false">'
        f'<button type="submit" name="other">{words("Take it", profile)}</button></p>{told_html(told)}'
    )


def told_html(sentence: str) -> str:
    """What is said of the next chord; ``sentence`` is HTML."""
    return f'<p class="told" id="told" role="status">{sentence}</p>'


def _chips(name: str, legend: str, rows: Sequence[tuple[str, str]], chosen: str) -> str:
    boxes = "".join(
        f'<label><input type="radio" name="{name}" value="{escape(value)}"{" checked" if value == chosen else ""}>'
        f"<span>{label}</span></label>"
        for value, label in rows
    )
    return f'<fieldset class="chips pick-{name}"><legend>{legend}</legend>{boxes}</fieldset>'


def _devices(seen: _Seen, profile: Profile) -> str:
    analysis = seen.analysis
    nothing = f"<p>{words('Nothing here has a name of its own.', profile)}</p>"
    body = sentences_html(analysis.devices, profile) if analysis.devices else nothing
    return section("doing", "What it does", body, profile)


def sentences_html(devices: Iterable[Found], profile: Profile = USUAL) -> str:
    """What each device does, with the number that stands at its bracket below the staff."""
    items = "".join(
        f'<li><span class="number">{number}</span><span class="says"><b>{words(found.name, profile)}</b>'
        f" {prose(found.text, profile)}</span></li>"
        for number, found in enumerate(devices, 1)
    )
    return f'<ol class="devices">{items}</ol>'


def _shapes(seen: _Seen, profile: Profile) -> str:
    shapes = _shapes_in(seen.analysis)
    if not shapes:
        return ""
    labels, plates = seen.page.neck.labels, ""
    for number, (shape, notes) in enumerate(shapes.items(), 1):
        plates += (
            f'<figure class="plate"><figcaption>{plain(shape.own, profile)} <span class="beside">'
            f"{words('inside {chord}', profile, chord=shape.chord)}</span></figcaption>"
            f"{svg(shape_pictures(shape, profile)[1], f'shape-{number}', 'always')}"
            f"{shape_neck_svg(seen.fingered, shape, notes, f'shape-neck-{number}', labels, profile)}</figure>"
        )
    return section("shape", "3 to 9, one shape", plates, profile)


def _shapes_in(analysis: Analysis) -> dict[Shape, tuple[int, ...]]:
    """The arpeggios from a third that are seventh chords of their own, each inside its chord, and their notes' indexes.

    Of one that comes more than once, the first.
    """
    shapes: dict[Shape, tuple[int, ...]] = {}
    for found in analysis.devices:
        if not found.name.startswith(_FROM_THE_THIRD):
            continue
        four = {analysis.notes[index].degree.rung: index for index in range(found.first, found.last + 1)}
        if not set(_STACK) <= set(four):
            continue
        indexes = tuple(four[rung] for rung in _STACK)
        heard = [analysis.notes[index] for index in indexes]
        chord = heard[0].chord
        notes = tuple(one.pitch.in_octave(None) for one in heard)
        own = chord_in_thirds(notes)
        if own:
            degrees = (Degree("1"), *(one.degree for one in heard))
            shapes.setdefault(Shape(chord, own, (chord.root, *notes), degrees), indexes)
    return shapes


def _drills(seen: _Seen, profile: Profile) -> str:
    page = seen.page
    try:
        link = escape(f"v=1&line={to_link(handed_on(page.line))}")
    except BadInput as bad:
        return section("drill", "Drill this line", f"<p>{escape(str(bad))}</p>", profile)
    found = [entry for entry in CATALOGUE if entry.takes_line and asks_about(entry.slug, page.played)]
    items = "".join(
        f'<li{kind_of(entry)}><a href="../drills/{entry.slug}.html#{link}">'
        f'<span class="name">{words(entry.title, profile)}</span>'
        f' <span class="teaser">{words(entry.teaser, profile)}</span></a></li>'
        for entry in found
    )
    left_out = left_out_html("../settings.html", profile) if any(entry.by_ear for entry in found) else ""
    return section("drill", "Drill this line", f'<ul class="list">{items}</ul>{left_out}', profile)


def _handing_on(_: _Seen, profile: Profile) -> str:
    files = "".join(
        f'<button type="button" name="file" value="{kind}">{name}</button>' for kind, name in FORMATS.items()
    )
    body = (
        f'<p class="buttons">{files}<button type="button" name="share" value="line">{words("Share a link", profile)}'
        f'</button><button type="button" data-print>{words("Print a handout", profile)}</button></p>'
        f'<p class="check"><label><input type="checkbox" name="bare" value="yes" data-local> '
        f"{words('Handout without the answers', profile)}</label></p>"
    )
    return section("handing-on", "Keep it, hand it on", body, profile)


@dataclass(frozen=True, slots=True)
class _Row:
    """A row of the table of notes; ``place`` is None where the line cannot be played."""

    line: Line
    heard: Heard
    aim: Aim | None
    place: Place | None


# The columns of the table of notes.
_COLUMNS: Mapping[str, Callable[[_Row, Profile], str]] = {
    "Bar": lambda row, _: str(bar_number(row.line.meter, row.heard.note.start)),
    "Beat": lambda row, _: number_text(beat_in_bar(row.line.meter, row.heard.note.start)),
    "Note": lambda row, profile: plain(row.heard.pitch.in_octave(None), profile),
    "Chord": lambda row, profile: plain(row.heard.chord, profile),
    "Degree": lambda row, profile: plain(row.heard.degree, profile),
    "It is": lambda row, profile: _role(row.heard, row.aim, profile),
    "String": lambda row, _: str(row.place.string) if row.place else "",
    "Fret": lambda row, _: str(row.place.fret) if row.place else "",
}


def _role(heard: Heard, aim: Aim | None, profile: Profile) -> str:
    role = words(heard.naming.role, profile)
    if aim is None:
        return role
    return f"{role}, {words('or the {degree} of {chord}', profile, degree=aim.degree, chord=aim.chord)}"


def _table(seen: _Seen, profile: Profile) -> str:
    heads = "".join(f'<th scope="col">{words(name, profile)}</th>' for name in _COLUMNS)
    analysis, way = seen.analysis, seen.fingered.chosen
    places: Sequence[Place | None] = way.places if way else [None] * len(analysis.notes)
    cells = [
        _Row(analysis.line, heard, aim, place)
        for heard, aim, place in zip(analysis.notes, analysis.aims, places, strict=True)
    ]
    rows = "".join(
        "<tr>" + "".join(f"<td>{cell(row, profile)}</td>" for cell in _COLUMNS.values()) + "</tr>" for row in cells
    )
    label = words("Every note", profile)  # on a narrow screen the table is scrolled, with keys too
    table = (
        f'<div class="every-note" tabindex="0" role="region" aria-label="{label}">'
        f"<table><thead><tr>{heads}</tr></thead><tbody>{rows}</tbody></table></div>"
    )
    return section("notes", "Every note", table, profile)
