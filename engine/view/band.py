"""The page "With the band": what sounds now on the sleeve, what is set up on the paper."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from engine.lines.line import Line
from engine.lines.moving import keys_of
from engine.lines.progression import PROGRESSIONS
from engine.practice.band import MOST_CHORUSES, MOST_LINES, SETTINGS, Band, mode_of, through, write_band
from engine.practice.own_lines import OwnLine
from engine.practice.reached import reached
from engine.practice.setting import texts
from engine.theory.bad_input import BadInput
from engine.theory.key import Key, parse_key
from engine.theory.wording import USUAL, Profile, Slot, say
from engine.view.hearing import (
    CAUTION,
    count_in_html,
    play_html,
    swing_html,
    switch_html,
    tempo_html,
    unused_html,
    with_chosen,
)
from engine.view.line_fields import button, select
from engine.view.markup import as_data, escape, plain, section, words
from engine.view.own_lines import name_of

KEPT = "linekeeper band"  # under which name the device keeps what was set up last
LEAD = "Your line through the keys over a rhythm section, faster and faster, with room for an answer."
TYPED = "typed"  # the value of a progression that is no row of the table
LONGEST_CHORDS = 600
SHOWN_LINES = 100
# What the form shows of the settings; the seed is changed by a button.
IN_FORM = tuple(one for one in SETTINGS if one.name not in ("over", "seed"))
ORDER_NAMES = {
    "given": "as chosen", "fourths": "cycle of fourths", "chromatic": "half steps up",
    "chromatic-down": "half steps down", "whole-tone": "whole steps", "minor-thirds": "minor thirds",
    "random": "shuffled",
}  # fmt: skip
BASS_NAMES = {"auto": "by the tempo", "two": "in two", "four": "in four, walking"}
_RISES = (0, 2, 4, 6, 8, 10)
_CHORUSES = (1, 2, 3, 4, 6, 8, 12, 24, 36, MOST_CHORUSES)


def state_of(band: Band, undo: Sequence[Any] = (), of: int = 0, before: str = "") -> dict[str, Any]:
    """What the form keeps; ``before``: the link of the set-up that was put away.

    ``undo``: the marks as they were before each change, the last one last; ``of``: the place of the line whose marks
    are shown.
    """
    return {
        "do": "band",
        "set": write_band(band),
        **({"undo": list(undo)} if undo else {}),
        **({"of": of} if of else {}),
        **({"before": before} if before else {}),
    }


def band_form_html(band: Band, book: Iterable[Line], profile: Profile = USUAL) -> str:
    """The page's form as it comes; ``book``: the lines to choose from beside one's own."""
    return (
        f'<form class="desk with-band" id="with-band" data-desk="{as_data(state_of(band))}" data-needs="own" data-quiet'
        f' data-kept="{KEPT}" autocomplete="off">{_sleeve(profile)}<div class="paper"><section class="chosen">'
        f"<h2>{words('Lines', profile)}</h2>{lines_html(band, (), profile)}{_from_book(book, profile)}</section>"
        f"{setup_html(band, profile)}{marks_html(band, (), profile)}{_handing_on(profile)}</div></form>"
    )


def _sleeve(profile: Profile) -> str:
    caution, lead = words(CAUTION, profile), words(LEAD, profile)
    return (
        f'<div class="sleeve"><div><h1>{words("With the band", profile)}</h1><p class="lead">{lead}</p>'
        f'<div class="sounding-now"><p id="sounding-key"></p><p id="sounding-next"></p>'
        f'<p id="sounding-chord"></p><p id="sounding-chorus"></p><p id="sounding-turn"></p></div>'
        f"{play_html('band', profile, ' data-awake')}{unused_html()}"
        f'<p class="well"><button type="button" name="well" value="">{words("It went well:", profile)}'
        ' <span id="sounding-mark"></span></button>'
        '<input type="hidden" name="marking" id="sounding-marking" value=""></p>'
        f'{NOT_KEPT}<p class="caution">{caution}</p></div></div>'
    )


NOT_KEPT = '<p class="kept" id="band-kept" tabindex="-1"></p>'


def kept_html(line: Line, key: str, tempo: int, profile: Profile) -> str:
    """That a tempo was kept, beside the button that did it, and the way back."""
    told = words("{title}, {key} {tempo}: kept.", profile, title=title_of(line), key=parse_key(key), tempo=tempo)
    return NOT_KEPT.replace("></p>", f">{told} {button('back', words('Undo', profile))}</p>")


# --- lines -----------------------------------------------------------------------------


def lines_html(band: Band, own: Sequence[OwnLine], profile: Profile, fault: str = "") -> str:
    """The lines that are played, and those of one's own to choose from."""
    items = "".join(
        f"<li><span>{plain(title_of(line), profile)}</span>"
        f" {button('remove', words('Leave it out', profile), str(number))}</li>"
        for number, line in enumerate(band.lines)
    )
    nothing = words("No line is chosen: the band plays alone, and you over it.", profile)
    listed = f'<ul class="lines">{items}</ul>' if items else f"<p>{nothing}</p>"
    rows = [(one.id, plain(name_of(one), profile)) for one in own[:SHOWN_LINES] if one.line]
    mine = _adding("own", words("From my lines", profile), rows, profile) if rows else _no_own(profile)
    return (
        f'<div id="band-lines">{listed}<p class="fault" id="lines-fault" role="status">{escape(fault)}</p>{mine}</div>'
    )


def _no_own(profile: Profile) -> str:
    """The way to a line of one's own, for who has none yet."""
    text, link = words("Lines of your own can be chosen here too:", profile), words("tap one in", profile)
    return f'<p class="says">{text} <a href="lines/new.html">{link}</a></p>'


def title_of(line: Line) -> Slot:
    """The line's title, or its chords."""
    chords = tuple(change.chord for change in line.changes[:4])
    return line.title or say("{chords:row}", chords=chords)


def _from_book(book: Iterable[Line], profile: Profile) -> str:
    rows = []
    for line in book:
        try:
            value = write_band(Band(lines=(line,))).partition("line=")[2]
        except BadInput:
            continue  # too long for a link
        rows.append((value, plain(title_of(line), profile)))
    return _adding("book", words("From the book", profile), rows, profile)


def _adding(name: str, label: str, rows: Sequence[tuple[str, str]], profile: Profile) -> str:
    chooser = select(f"from-{name}", label, rows, "").replace("<select ", "<select data-local ")
    return f'<div class="adding">{chooser}{button("add", words("Add", profile), name)}</div>'


# --- the set-up --------------------------------------------------------------------------


def shown_texts(band: Band) -> dict[str, str]:
    """What the fields show, so that what was changed since can be told from them."""
    tonics = {key.tonic.pitch_class for key in band.keys}
    keys = ",".join(str(key) for key in keys_of(mode_of(band)) if key.tonic.pitch_class in tonics)
    choruses = str(band.choruses) if band.choruses else ""
    return {**texts(band, IN_FORM), "keys": keys, "choruses": choruses, "over": _over(band), "chords": _typed(band)}


def _typed(band: Band) -> str:
    return "" if band.over in PROGRESSIONS else band.over


def _over(band: Band) -> str:
    return TYPED if _typed(band) else band.over


def setup_html(band: Band, profile: Profile, faults: Mapping[str, str] | None = None) -> str:
    """The fields; ``faults``: a sentence by the name of a field on what was typed there."""
    faults = faults or {}
    shown = shown_texts(band)
    switch = switch_html("response", words("Call and response: after each line as many bars are yours", profile),
                         band.response)  # fmt: skip
    body = (
        f'<input type="hidden" name="shown" value="{as_data(shown)}">'
        '<input type="hidden" name="now" id="sounding-now" value="">'
        f"{tempo_html(band.tempo, faults.get('tempo', ''), profile)}"
        f'<div class="pair">{_rise(band.rise, profile)}{count_in_html(band.count_in, profile)}</div>'
        f"{_progression(band, faults.get('chords', ''), profile)}"
        f"{_keys(band, shown['keys'], profile)}"
        f"{_order(band, profile)}"
        f'<div class="pair">{_choruses(shown["choruses"], profile)}{swing_html(band.swing, profile)}</div>'
        f"{_bass(band.bass, profile)}"
        f"{switch if band.lines else ''}"
    )
    return f'<section class="hearing set-up" id="band-setup"><h2>{words("Set-up", profile)}</h2>{body}</section>'


def _progression(band: Band, fault: str, profile: Profile) -> str:
    rows = [("", words("the line’s own chords", profile))] if band.lines else []
    rows += [(name, words(one.title, profile)) for name, one in PROGRESSIONS.items()]
    if _typed(band):
        rows.append((TYPED, words("chords of my own", profile)))
    value = "" if fault else f' value="{escape(_typed(band))}"'
    label = words("Or type chords, bars parted by |", profile)
    return (
        f"{select('over', words('Chords', profile), rows, _over(band))}"
        f'<p class="field"><label for="chords">{label}</label><input id="chords" name="chords" type="text"{value}'
        f' maxlength="{LONGEST_CHORDS}" placeholder="Dm7 G7 | Cmaj7" aria-describedby="chords-fault"'
        ' autocapitalize="off" autocomplete="off" spellcheck="false"></p>'
        f'<p class="fault" id="chords-fault" role="status">{escape(fault)}</p>'
    )


def _keys(band: Band, chosen: str, profile: Profile) -> str:
    """The twelve keys to choose from; those that are chosen have their place in the order of play."""
    names = [name for name in chosen.split(",") if name]
    keys = through(band)
    places = {str(key): place for place, key in enumerate(keys, 1)} if names else {}
    boxes = "".join(
        f'<label><input type="checkbox" name="keys" value="{key}"{" checked" if str(key) in names else ""}'
        f' aria-label="{words("{key}", profile, key=key)}"><span>{plain(key.tonic, profile)}'
        f"{_place(places.get(str(key)))}</span></label>"
        for key in keys_of(mode_of(band))
    )
    legend = words("Keys; none chosen: all twelve", profile)
    told = words("They come in this order: {keys}.", profile, keys=tuple(key.tonic for key in keys))
    if len(keys) == 1:
        told = words("Every chorus is in {key}.", profile, key=keys[0])
    return f'<fieldset class="chips pick-key"><legend>{legend}</legend>{boxes}</fieldset><p class="says">{told}</p>'


def _place(number: int | None) -> str:
    return f"<small>{number}</small>" if number else ""


def _order(band: Band, profile: Profile) -> str:
    # All twelve as they are named go by fourths: there one of both is enough.
    same = "" if band.keys else "given" if band.order == "fourths" else "fourths"
    names = {name: label for name, label in ORDER_NAMES.items() if name != same}
    if not band.keys and "given" in names:
        names["given"] = ORDER_NAMES["fourths"]
    rows = [(name, words(label, profile)) for name, label in names.items()]
    return select("order", words("Order of keys", profile), rows, band.order)


def _bass(bass: str, profile: Profile) -> str:
    rows = [(name, words(label, profile)) for name, label in BASS_NAMES.items()]
    return select("bass", words("Bass", profile), rows, bass)


def _rise(rise: int, profile: Profile) -> str:
    rows = [(str(count), words("{count} faster", profile, count=count) if count else words("no faster", profile))
            for count in _RISES]  # fmt: skip
    return select("rise", words("Each chorus", profile), with_chosen(rows, str(rise)), str(rise))


def _choruses(choruses: str, profile: Profile) -> str:
    rows = [("", words("one a key", profile)), *((str(count), str(count)) for count in _CHORUSES)]
    return select("choruses", words("Choruses", profile), with_chosen(rows, choruses), choruses)


# --- tempos reached ------------------------------------------------------------------------


def marks_html(
    band: Band, records: Iterable[Any], profile: Profile, of: int = 0, fault: str = "", undoable: bool = False
) -> str:
    """The tempo reached with one of the lines, the one at the place ``of``: a field for each key."""
    head = f'<section class="marks" id="band-marks" tabindex="-1"><h2>{words("Reached", profile)}</h2>'
    if not band.lines:
        empty = words("With a line chosen, the tempo at which it went well is kept here, key by key.", profile)
        return f'{head}<p class="says">{empty}</p></section>'
    line = band.lines[of]
    marks = reached(records, line)
    keys = keys_of(line.key.mode)
    items = "".join(_mark(key, marks.get(str(key)), profile) for key in keys)
    shown = {str(key): str(marks.get(str(key), "")) for key in keys}
    says = words("The tempo at which {title} went well: press Reached for what was played last, or type it.", profile,
                 title=title_of(line))  # fmt: skip
    titles = [(str(place), plain(title_of(one), profile)) for place, one in enumerate(band.lines)]
    which = select("of", words("Line", profile), titles, str(of)) if len(titles) > 1 else ""
    undo = f'<p class="buttons">{button("back", words("Undo", profile))}</p>' if undoable else ""
    return (
        f'{head}{which}<p class="says">{says}</p>'
        f'<input type="hidden" name="marked" value="{as_data(shown)}"><ul>{items}</ul>'
        f'<p class="fault" id="marks-fault" role="status">{escape(fault)}</p>{undo}</section>'
    )


def _mark(key: Key, tempo: int | None, profile: Profile) -> str:
    name = plain(key.tonic, profile)
    label = words("Tempo reached in {key}", profile, key=key)
    said = f'{words("Reached", profile)}<span class="unseen"> {words("in {key}", profile, key=key)}</span>'
    return (
        f'<li><span aria-hidden="true">{name}</span><input name="mark-{key}" type="text" inputmode="numeric"'
        f' maxlength="4" value="{"" if tempo is None else tempo}" aria-label="{label}" aria-describedby="marks-fault"'
        f' autocomplete="off">{button("reached", said, str(key))}</li>'
    )


def afresh_html(profile: Profile, before: bool = False) -> str:
    """The way to a set-up with nothing in it; ``before``: the way back from there."""
    made = (
        button("restore", words("Take that back", profile))
        if before
        else button("afresh", words("Start anew", profile))
    )
    return f'<p class="buttons afresh" id="band-afresh">{made}</p>'


def _handing_on(profile: Profile) -> str:
    buttons = (
        button("share", words("Share this set-up", profile)), button("midi", words("Save as MIDI", profile)),
        button("anew", words("Another bass line, other voicings", profile)),
    )  # fmt: skip
    most = words("{count} lines at most; the link carries them and all that is set.", profile, count=MOST_LINES)
    body = f'<p class="buttons">{"".join(buttons)}</p><p class="says">{most}</p>{afresh_html(profile)}'
    return section("handing-on", "Keep it, hand it on", body, profile)
