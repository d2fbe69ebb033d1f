"""What the form of "With the band" asks the engine, and the answers (``engine.browser`` has their shape)."""

from __future__ import annotations

import json
from base64 import b64encode
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import Any

from engine.formats.cannot_write import CannotWrite
from engine.lines.progression import PROGRESSIONS
from engine.practice.band import (
    ALONE,
    Band,
    arranged,
    own_line,
    read_band,
    with_chords,
    with_keys,
    with_line,
    write_band,
)
from engine.practice.band_file import band_midi
from engine.practice.hearing import stepped
from engine.practice.line_in_link import from_link
from engine.practice.own_lines import fold
from engine.practice.reached import music_id, reached, reaching
from engine.practice.setting import TEMPO, Fields, with_fields
from engine.theory.bad_input import BadInput, shown
from engine.theory.key import parse_key
from engine.theory.wording import USUAL, render, say
from engine.view.band import (
    IN_FORM,
    NOT_KEPT,
    TYPED,
    afresh_html,
    kept_html,
    lines_html,
    marks_html,
    setup_html,
    state_of,
)
from engine.view.band_sound import sound_of
from engine.view.hearing import unused_html, unused_tempo

Reply = dict[str, Any]
Request = Mapping[str, Any]

MOST_UNDONE = 20
FILE = "with-the-band.mid"
MIDI_TYPE = "audio/midi"
_MOST_SEED = 1000
# What the page asks once nothing was changed for so many milliseconds: to have at hand what "Play" will want.
_AHEAD, _IDLE = ("ahead", ""), 600


def answer(request: Request) -> Reply:
    """The answer to what was pressed or filled in."""
    name, value = request.get("pressed") or ("", "")
    act = _ACTS.get(str(name), _changed)
    return act(request, _band(request), str(value))


def _band(request: Request) -> Band:
    """The set-up of the form's state."""
    return with_chords(read_band(str(request.get("set", ""))).band)


def _first(fields: Fields, name: str) -> str:
    return str(next(iter(fields.get(name, ())), ""))


# --- what is shown -------------------------------------------------------------------------


def _opened(request: Request, band: Band, _: str) -> Reply:
    """The page as its link has it; where that names a line of this device, the address takes the line itself along."""
    link = str(request.get("link", ""))
    read = read_band(link, fold(request.get("own", ())))
    reply = {**_page(request, with_chords(read.band) if link else band), "notice": " ".join(read.ignored) or None}
    if "id" not in read.set:
        del reply["link"]
    return reply


def _page(request: Request, band: Band, faults: Mapping[str, str] | None = None, before: str = "") -> Reply:
    """All of the form that follows the set-up; ``before``: the link of one that was put away for it."""
    faults = faults or {}
    undo, of = request.get("undo", ()), _of(request, band)
    return {
        "desk": state_of(band, undo, of, before),
        "link": _link(band),
        "kept": _link(band),
        "ahead": _AHEAD,
        "idle": _IDLE,
        "patches": {
            "band-lines": lines_html(band, fold(request.get("own", ())).lines, USUAL, faults.get("lines", "")),
            "band-setup": setup_html(band, USUAL, faults),
            "band-marks": _marks(request, band, of, undo),
            "unused": unused_html(),
            "band-afresh": afresh_html(USUAL, bool(before)),
        },
    }


def _marks(request: Request, band: Band, of: int, undo: Sequence[Any], fault: str = "") -> str:
    return marks_html(band, request.get("own", ()), USUAL, of, fault, bool(undo))


def _of(request: Request, band: Band) -> int:
    """The place of the line whose marks are shown."""
    place = request.get("of", 0)
    return place if isinstance(place, int) and 0 <= place < len(band.lines) else 0


def _link(band: Band) -> str:
    """What stands behind # of the address; nothing where all is as the page comes."""
    return "" if band == with_chords(Band()) else write_band(band)


def _set(request: Request, before: Band, band: Band) -> Reply:
    """The page with another set-up: what sounds just now begins anew."""
    return {**_page(request, with_chords(band)), "replay": band != before}


# --- what is done ----------------------------------------------------------------------------


def _changed(request: Request, band: Band, _: str) -> Reply:
    """Fields were filled in: of the set-up, or tempos that were reached, or the line that these are about."""
    fields: Fields = request.get("fields", {})
    marked = _other_line(request, band, fields) or _marked(request, band, fields)
    if marked:
        return marked
    made, faults = _filled_in(band, fields)
    return {**_page(request, with_chords(made), faults), "replay": made != band}


def _filled_in(band: Band, fields: Fields) -> tuple[Band, dict[str, str]]:
    """The set-up with what was changed in the fields, and a sentence for each that cannot be read."""
    before = json.loads(_first(fields, "shown") or "{}")
    made, faults = with_fields(band, Band(), IN_FORM, fields, before)
    made = with_keys(made, band.keys)
    if before:
        try:
            made = replace(made, over=_over(band, fields, before))
        except BadInput as bad:
            faults["chords"] = f'"{shown(bad.token)}" {bad.problem}: {bad.instead}.'
    return made, faults


def _over(band: Band, fields: Fields, before: Mapping[str, str]) -> str:
    """The progression that the fields ask for: what was typed, or what was chosen."""
    typed, chosen = _first(fields, "chords").strip(), _first(fields, "over")
    if chosen != before.get("over") and chosen != TYPED:
        return chosen if chosen in PROGRESSIONS else ""
    if typed == before.get("chords", ""):
        return band.over
    return replace(band, over=typed).over if typed and _is_read(typed) else ""


def _is_read(typed: str) -> bool:
    """BadInput where what was typed is no progression."""
    return Band(over=typed).progression is not None


def _tempo(request: Request, band: Band, step: str) -> Reply:
    return _set(request, band, replace(band, tempo=stepped(band.tempo, step)))


def _add(request: Request, band: Band, where: str) -> Reply:
    """A line more, from the book or of one's own; what is too much is told."""
    value = _first(request.get("fields", {}), f"from-{where}")
    try:
        line = from_link(value) if where == "book" else own_line(fold(request.get("own", ())), value)
        # What the band played alone gives way to the first line's own chords.
        made = with_line(replace(band, over="") if band.over == ALONE and not band.lines else band, line)
        write_band(made)
    except BadInput as bad:
        return _page(request, band, {"lines": f'"{shown(bad.token)}" {bad.problem}: {bad.instead}.'})
    return _set(request, band, made)


def _remove(request: Request, band: Band, number: str) -> Reply:
    lines = tuple(line for place, line in enumerate(band.lines) if str(place) != number)
    return _set({**request, "undo": [], "of": 0}, band, replace(band, lines=lines))


def _anew(request: Request, band: Band, _: str) -> Reply:
    """The same set-up by another seed: another bass, other voicings, other keys where they are shuffled."""
    seed = int(request.get("chance", 0)) % _MOST_SEED + 1
    return _set(request, band, replace(band, seed=seed if seed != band.seed else seed + 1))


def _afresh(request: Request, band: Band, _: str) -> Reply:
    """The page as it came; the set-up that was there can be had back until another is made."""
    made = with_chords(Band())
    page = _page({**request, "undo": [], "of": 0}, made, before=write_band(band))
    return {**page, "replay": made != band, "said": render(say("All is as at first."))}


def _restore(request: Request, band: Band, _: str) -> Reply:
    before = str(request.get("before", ""))
    return _set(request, band, read_band(before).band) if before else {}


def _share(_: Request, band: Band, __: str) -> Reply:
    return {"share": {"title": render(say("With the band")), "link": write_band(band)}}


def _midi(_: Request, band: Band, value: str) -> Reply:
    """The set as a file, worked out part by part; other taps come between."""
    made, number = arranged(band), _part(value)
    if not made.is_last(number):
        return {"then": ["midi", str(number + 1)]}
    try:
        content = band_midi(made.arrangement)
    except CannotWrite as bad:
        if isinstance(bad.__cause__, ImportError):
            return {"pack": bad.token}
        raise
    return {"file": {"name": FILE, "type": MIDI_TYPE, "base64": b64encode(content).decode("ascii")}}


# --- what sounds ------------------------------------------------------------------------------


def _hear(request: Request, band: Band, value: str) -> Reply:
    """The first part of what is played, or the one of a number; ``more`` tells what to ask for to hear the next.

    With the first it is told which fields are not used, as what stands in them cannot be read.
    """
    number = _part(value)
    sound, notice = sound_of(band, number)
    reply = {"sound": sound, "notice": notice}
    if number:
        return reply
    fields: Fields = request.get("fields", {})
    _, faults = _filled_in(band, fields)
    unused, patches = [], {}
    if faults.pop("tempo", ""):
        unused.append(unused_tempo(fields, band.tempo))
        # The field shows what is played.
        patches["band-setup"] = setup_html(band, USUAL, faults)
    if "chords" in faults:
        typed = shown(_first(fields, "chords").strip())
        unused.append(render(say('"{typed}" is not used: the chords set before are played.', typed=typed)))
    return {**reply, "patches": {"unused": unused_html(unused), **patches}}


def _ahead(_: Request, band: Band, __: str) -> Reply:
    """Arranges the first part of what is set up, to have it at hand when it is to be heard."""
    sound_of(band, 0)
    return {}


def _part(value: str) -> int:
    """The number of a part by a button's value."""
    return int(value) if value.isascii() and value.isdigit() and len(value) < 6 else 0


# --- tempos reached -----------------------------------------------------------------------------


def _other_line(request: Request, band: Band, fields: Fields) -> Reply | None:
    """The marks of another line, where one was chosen, else None."""
    of, before = _first(fields, "of"), _of(request, band)
    if not of.isdecimal() or int(of) == before or int(of) >= len(band.lines):
        return None
    undo = request.get("undo", ())
    marks = {"band-marks": _marks(request, band, int(of), undo)}
    return {"desk": state_of(band, undo, int(of)), "patches": marks}


def _went_well(request: Request, band: Band, _: str) -> Reply:
    """What was played last is kept, and said where the button is."""
    name, key, tempo = [*_first(request.get("fields", {}), "marking").split(" "), "", ""][:3]
    of = next((place for place, line in enumerate(band.lines) if music_id(line) == name), None)
    if of is None or not tempo.isdecimal():
        return {}
    reply = _mark(request, band, of, key, TEMPO.read(tempo))
    return {**reply, "patches": {**reply["patches"], "band-kept": kept_html(band.lines[of], key, int(tempo), USUAL)}}


def _reached(request: Request, band: Band, key: str) -> Reply:
    """The tempo that was heard last, or the one that is set, is reached in a key."""
    heard = _first(request.get("fields", {}), "now")
    return _mark(request, band, _of(request, band), key, int(heard) if heard.isdecimal() else band.tempo)


def _marked(request: Request, band: Band, fields: Fields) -> Reply | None:
    """The answer where a tempo was typed for a key, else None."""
    before: Mapping[str, str] = json.loads(_first(fields, "marked") or "{}")
    of = _of(request, band)
    for key, text in before.items():
        typed = _first(fields, f"mark-{key}").strip()
        if f"mark-{key}" in fields and typed != text:
            try:
                return _mark(request, band, of, key, TEMPO.read(typed) if typed else None)
            except BadInput as bad:
                fault = f'"{shown(bad.token)}" {bad.problem}: {bad.instead}.'
                return {"patches": {"band-marks": _marks(request, band, of, request.get("undo", ()), fault)}}
    return None


def _mark(request: Request, band: Band, of: int, key: str, tempo: int | None, is_undo: bool = False) -> Reply:
    if not band.lines:
        return {}
    own, line = list(request.get("own", ())), band.lines[of]
    record = reaching(own, line, key, tempo, int(request["at"]))
    undo = list(request.get("undo", ()))
    before = reached(own, line).get(record["key"])
    undo = undo[:-1] if is_undo else [*undo, [of, record["key"], before]][-MOST_UNDONE:]
    tonic = parse_key(record["key"]).tonic
    told = say("{key} {tempo}: kept.", key=tonic, tempo=tempo) if tempo else say("{key}: taken back.", key=tonic)
    patches = {"band-marks": _marks({**request, "own": [*own, record]}, band, of, undo), "band-kept": NOT_KEPT}
    return {"desk": state_of(band, undo, of), "patches": patches, "keep": [record], "said": render(told)}


def _back(request: Request, band: Band, _: str) -> Reply:
    """The last mark as it was before."""
    undo: Sequence[Any] = request.get("undo", ())
    if not undo:
        return {}
    of, key, tempo = undo[-1]
    return _mark(request, band, _of({"of": of}, band), str(key), tempo, is_undo=True)


_ACTS: dict[str, Callable[[Request, Band, str], Reply]] = {
    "open": _opened, "hear": _hear, "ahead": _ahead, "tempo": _tempo, "add": _add, "remove": _remove, "anew": _anew,
    "afresh": _afresh, "restore": _restore,
    "share": _share, "midi": _midi, "reached": _reached, "well": _went_well, "back": _back,
}  # fmt: skip
