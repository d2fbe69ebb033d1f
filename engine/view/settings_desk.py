"""What the settings' form asks the engine, and the answers (``engine.browser`` has their shape).

What is kept comes with every request as ``settings``; ``shown``, a field of the form, says what the fields showed
when something was done in them, so that only that changes, whatever another page has set since.
"""

from __future__ import annotations

import json
import re
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from engine.neck.hand import REACH
from engine.neck.instrument import INSTRUMENTS, Instrument, instrument_of, tuned, tuning_of
from engine.practice.latency import clicks, estimated, read_late
from engine.practice.settings import AS_IT_CAME, Settings, read_settings, settings_as_json
from engine.sound.event import as_json
from engine.theory.bad_input import BadInput, shown
from engine.theory.wording import USUAL, render, say
from engine.view.latency import CLICK, Tapped, tapped_html, told
from engine.view.settings import OWN, STATE, fields_html, strings_of

Fields = Mapping[str, Sequence[str]]
Reply = dict[str, Any]

_SPACE = re.compile(r"(?<=[^\s,])\s(?=\s*[^\s,])")
_LETTER = re.compile(r"(?<![A-Ga-g])[a-g]")


def answer(request: Mapping[str, Any]) -> Reply:
    """The form as it is now, and what to keep."""
    kept = read_settings(request.get("settings"))
    name, value = request.get("pressed") or ("", "")
    if name == "open":
        return _shown(kept)
    if name == "hear" and value == CLICK:
        return {"sound": as_json(clicks()), "patches": {"late-test": tapped_html(None, USUAL)}}
    if name == "tapped":
        return {"patches": {"late-test": tapped_html(_tapped(str(value), kept.late), USUAL)}}
    if name == "take":
        return _taken(str(value), kept)
    if name == "usual":
        return _kept(AS_IT_CAME, kept, before=kept)
    if name == "back":
        return _kept(read_settings(request.get("before")), kept)
    return _changed(request.get("fields", {}), kept)


def _tapped(text: str, late: int) -> Tapped:
    """What came of the test; ``text`` is a list of the seconds at which there was a tap, as JSON."""
    taps = [float(tap) for tap in json.loads(text)]
    try:
        return told(estimated(taps), late)
    except BadInput as bad:
        return Tapped(str(bad))


def _taken(text: str, kept: Settings) -> Reply:
    """What the test found is set from now on, and can be had back beside it."""
    late = read_late(text)
    tapped = Tapped(say("Sound comes late by {late} ms from now on.", late=late), back=True)
    return _kept(replace(kept, late=late), kept, before=kept, tapped=tapped)


def _changed(fields: Fields, kept: Settings) -> Reply:
    """The settings with what was changed in the fields; where one cannot be read, with a sentence on it."""
    before = read_settings(json.loads(_first(fields, "shown") or "null"))
    left, quiet = bool(fields.get("left")), bool(fields.get("quiet"))
    stretch = int(_first(fields, "stretch") or before.stretch)
    then = replace(
        kept,
        left_handed=left if left != before.left_handed else kept.left_handed,
        stretch=stretch if stretch != before.stretch and stretch in REACH else kept.stretch,
        quiet=quiet if quiet != before.quiet else kept.quiet,
    )
    faults: dict[str, str] = {}
    try:
        late = read_late(_first(fields, "late") if "late" in fields else str(before.late))
        then = replace(then, late=late if late != before.late else kept.late)
    except BadInput as bad:
        until = render(say("Until then {late} counts.", late=kept.late))
        faults["late"] = f'"{shown(bad.token)}" {bad.problem}: {bad.instead}. {until}'
    typed = True
    try:
        instrument, typed = _instrument(fields, before.instrument, kept.instrument)
        then = replace(then, instrument=instrument)
        if not _first(fields, "tuning").strip() and _first(fields, "instrument") == _value(before.instrument):
            typed = True
            faults["tuning"] = f"{render(say('No string is written there.'))} {_until_then(instrument)}"
    except BadInput as bad:
        faults["tuning"] = f"{_which(bad, fields)}{bad} {_until_then(kept.instrument)}"
    return _kept(then, kept, typed=typed, faults=faults)


def _instrument(fields: Fields, shown: Instrument, kept: Instrument) -> tuple[Instrument, bool]:
    """The instrument that the fields ask for, and whether its strings were typed."""
    name, strings, frets = (_first(fields, field) for field in ("instrument", "tuning", "frets"))
    if name in INSTRUMENTS and name != _value(shown):
        return INSTRUMENTS[name], False
    if strings and strings.strip() != strings_of(shown):
        return instrument_of(tuning_of(tuned(spelt(strings), kept.frets)), kept.frets), True
    if frets and int(frets) != shown.frets:
        return instrument_of(tuning_of(kept), int(frets)), False
    return kept, False


def _which(bad: BadInput, fields: Fields) -> str:
    """Which string a fault of the tuning is about: String 2 from the low side; empty where it is about all of them."""
    words = [word.strip() for word in spelt(_first(fields, "tuning")).split(",")]
    if len(words) < 2 or bad.token not in words:
        return ""
    place = spelt(_first(fields, "tuning"))[: bad.column - 1].count(",") + 1
    return render(say("String {place} from the low side, ", place=place))


def _until_then(instrument: Instrument) -> str:
    """What counts while the field holds no tuning."""
    return render(say("Until then {strings} counts.", strings=strings_of(instrument)))


def _value(instrument: Instrument) -> str:
    tuning = tuning_of(instrument)
    return tuning if tuning in INSTRUMENTS else OWN


def spelt(strings: str) -> str:
    """Strings as a phone's keyboard gives them, ``e2 a2`` say, with capitals and commas; every sign where it was."""
    return _LETTER.sub(lambda found: found[0].upper(), _SPACE.sub(",", strings))


def _first(fields: Fields, name: str) -> str:
    return str(next(iter(fields.get(name, ())), ""))


def _kept(settings: Settings, kept: Settings, before: Settings | None = None, **shown: Any) -> Reply:
    """The form with these settings, which are kept if they are others than before."""
    reply = _shown(settings, before, **shown)
    if settings != kept:
        reply |= {"settings": to_keep(settings), "said": render(say("Kept."))}
    return reply


def _shown(settings: Settings, before: Settings | None = None, **shown: Any) -> Reply:
    """``shown``: what ``fields_html`` shows beside the settings."""
    state = {**STATE, "before": settings_as_json(before)} if before else STATE
    return {"desk": state, "patches": {"settings-page": fields_html(settings, before=before, **shown)}}


def to_keep(settings: Settings) -> dict[str, Any] | None:
    """What the page keeps; None where all is as it came."""
    if settings == AS_IT_CAME:
        return None
    return {**settings_as_json(settings), "built": settings.is_as_built}
