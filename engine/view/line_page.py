"""A line's page: its staff and chords on the sleeve, what it does and what can be done with it on the paper."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence

from engine.drills.catalogue import CATALOGUE
from engine.drills.question import Shape
from engine.formats.bars import bar_number
from engine.formats.text import beat_in_bar, number_text
from engine.lines.devices.device import Found
from engine.lines.devices.recognise import Aim, Analysis, analyse
from engine.lines.line import Line
from engine.lines.moving import keys_of
from engine.lines.reading import Heard
from engine.lines.use import USES, use_of
from engine.practice.line_in_link import handed_on, to_link
from engine.practice.rounds import asks_about
from engine.practice.shown_line import Shown, as_state
from engine.theory.arpeggio import chord_in_thirds
from engine.theory.bad_input import BadInput
from engine.theory.degree import Degree
from engine.theory.wording import USUAL, Profile
from engine.view.engraving import engraving_html
from engine.view.glyphs import definitions
from engine.view.markup import as_data, escape, plain, prose, words
from engine.view.picture import svg
from engine.view.shape import shape_pictures

FORMATS = {"abc": "ABC", "musicxml": "MusicXML", "midi": "MIDI"}
_FROM_THE_THIRD = "arpeggio from the third"
_STACK = (3, 5, 7, 9)


def line_form_html(page: Shown, profile: Profile = USUAL) -> str:
    """The page's form: everything on the page that follows the key and the next chord."""
    analysis = analyse(page.line)
    parts = (_keys, _next, _devices, _shapes, _drills, _handing_on, _table)
    return (
        f'<form class="desk line" id="line" autocomplete="off" data-desk="{as_data(as_state(page))}">'
        f"{definitions()}{_sleeve(page, analysis, profile)}"
        f'<div class="paper">{"".join(part(page, analysis, profile) for part in parts)}</div></form>'
    )


def _sleeve(page: Shown, analysis: Analysis, profile: Profile) -> str:
    title = escape(page.line.title) or words("A line", profile)
    use = words("{use}, in {key}", profile, use=USES[use_of(page.written)], key=page.line.key)
    if page.line.source:
        use = f'{use}<br>{words("Taken from {source}", profile, source=page.line.source)}'
    remarks = "".join(f'<p class="lead">{escape(remark)}</p>' for remark in page.line.remarks)
    task = words("Write the degree under each note, and what each bracket does.", profile)
    return (
        f'<div class="sleeve"><div><h1>{title}</h1><p class="use">{use}</p>{remarks}'
        f'{engraving_html(analysis, "staff", profile)}<p class="task">{task}</p></div></div>'
    )


def _keys(page: Shown, _: Analysis, profile: Profile) -> str:
    keys = [(str(key), plain(key.tonic, profile)) for key in keys_of(page.written.key.mode)]
    mine = str(page.line.key)
    if mine not in dict(keys):  # a line may be written in C sharp
        keys.append((mine, plain(page.line.key.tonic, profile)))
    name = "Key" if page.written.key.mode == "major" else "Minor key"
    return _chips("key", words(name, profile), keys, mine)


def _next(page: Shown, _: Analysis, profile: Profile) -> str:
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


def _devices(_: Shown, analysis: Analysis, profile: Profile) -> str:
    nothing = f"<p>{words('Nothing here has a name of its own.', profile)}</p>"
    body = sentences_html(analysis.devices, profile) if analysis.devices else nothing
    return _section("doing", "What it does", body, profile)


def sentences_html(devices: Iterable[Found], profile: Profile = USUAL) -> str:
    """What each device does, with the number that stands at its bracket below the staff."""
    items = "".join(
        f'<li><span class="number">{number}</span><span class="says"><b>{words(found.name, profile)}</b>'
        f" {prose(found.text, profile)}</span></li>"
        for number, found in enumerate(devices, 1)
    )
    return f'<ol class="devices">{items}</ol>'


def _shapes(_: Shown, analysis: Analysis, profile: Profile) -> str:
    shapes = list(dict.fromkeys(_shapes_in(analysis)))
    if not shapes:
        return ""
    plates = "".join(
        f'<figure class="plate"><figcaption>{plain(shape.own, profile)} <span class="beside">'
        f"{words('inside {chord}', profile, chord=shape.chord)}</span></figcaption>"
        f"{svg(shape_pictures(shape, profile)[1], f'shape-{number}', 'always')}</figure>"
        for number, shape in enumerate(shapes, 1)
    )
    return _section("shape", "3 to 9, one shape", plates, profile)


def _shapes_in(analysis: Analysis) -> list[Shape]:
    """The arpeggios from a third that are seventh chords of their own, each inside its chord."""
    shapes = []
    for found in analysis.devices:
        if not found.name.startswith(_FROM_THE_THIRD):
            continue
        four: dict[int, Heard] = {heard.degree.rung: heard for heard in analysis.notes[found.first : found.last + 1]}
        if not set(_STACK) <= set(four):
            continue
        chord = four[3].chord
        degrees = tuple(four[rung].degree for rung in _STACK)
        notes = tuple(four[rung].pitch.in_octave(None) for rung in _STACK)
        own = chord_in_thirds(notes)
        if own:
            shapes.append(Shape(chord, own, (chord.root, *notes), (Degree("1"), *degrees)))
    return shapes


def _drills(page: Shown, _: Analysis, profile: Profile) -> str:
    try:
        link = escape(f"v=1&line={to_link(handed_on(page.line))}")
    except BadInput as bad:
        return _section("drill", "Drill this line", f"<p>{escape(str(bad))}</p>", profile)
    items = "".join(
        f'<li><a href="../drills/{entry.slug}.html#{link}"><span class="name">{words(entry.title, profile)}</span>'
        f' <span class="teaser">{words(entry.teaser, profile)}</span></a></li>'
        for entry in CATALOGUE
        if entry.takes_line and asks_about(entry.slug, page.written)
    )
    return _section("drill", "Drill this line", f'<ul class="list">{items}</ul>', profile)


def _handing_on(_: Shown, __: Analysis, profile: Profile) -> str:
    files = "".join(
        f'<button type="button" name="file" value="{kind}">{name}</button>' for kind, name in FORMATS.items()
    )
    body = (
        f'<p class="buttons">{files}<button type="button" name="share" value="line">{words("Share a link", profile)}'
        f'</button><button type="button" data-print>{words("Print a handout", profile)}</button></p>'
        f'<p class="check"><label><input type="checkbox" name="bare" value="yes" data-local> '
        f"{words('Handout without the answers', profile)}</label></p>"
    )
    return _section("handing-on", "Keep it, hand it on", body, profile)


# The columns of the table of notes.
_COLUMNS: Mapping[str, Callable[[Line, Heard, Aim | None, Profile], str]] = {
    "Bar": lambda line, heard, _, __: str(bar_number(line.meter, heard.note.start)),
    "Beat": lambda line, heard, _, __: number_text(beat_in_bar(line.meter, heard.note.start)),
    "Note": lambda _, heard, __, profile: plain(heard.pitch.in_octave(None), profile),
    "Chord": lambda _, heard, __, profile: plain(heard.chord, profile),
    "Degree": lambda _, heard, __, profile: plain(heard.degree, profile),
    "It is": lambda _, heard, aim, profile: _role(heard, aim, profile),
}


def _role(heard: Heard, aim: Aim | None, profile: Profile) -> str:
    role = words(heard.naming.role, profile)
    if aim is None:
        return role
    return f"{role}, {words('or the {degree} of {chord}', profile, degree=aim.degree, chord=aim.chord)}"


def _table(_: Shown, analysis: Analysis, profile: Profile) -> str:
    heads = "".join(f'<th scope="col">{words(name, profile)}</th>' for name in _COLUMNS)
    rows = "".join(
        "<tr>" + "".join(f"<td>{cell(analysis.line, heard, aim, profile)}</td>" for cell in _COLUMNS.values()) + "</tr>"
        for heard, aim in zip(analysis.notes, analysis.aims, strict=True)
    )
    table = f'<div class="every-note"><table><thead><tr>{heads}</tr></thead><tbody>{rows}</tbody></table></div>'
    return _section("notes", "Every note", table, profile)


def _section(name: str, title: str, body: str, profile: Profile) -> str:
    return f'<section class="{name}"><h2>{words(title, profile)}</h2>{body}</section>'
