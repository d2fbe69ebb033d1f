"""The settings' page: the instrument, the hand that frets it with a picture of both, and what has to do with sound."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence

from engine.neck.hand import REACH
from engine.neck.instrument import FRETS, INSTRUMENTS, Instrument, Place, tuning_of
from engine.practice.settings import AS_IT_CAME, Settings, settings_as_json
from engine.theory.naming import CHORD_TONE, EXTENSION
from engine.theory.wording import USUAL, Profile
from engine.view.latency import Tapped, late_html
from engine.view.line_fields import button, check, select
from engine.view.markup import as_data, escape, words
from engine.view.neck import Dot, neck_svg

STATE = {"do": "settings"}
OWN = "own"  # the value of a tuning that is no row of the instruments
LONGEST_TUNING = 80
# The picture shows the neck up to here, and the hand there.
_SHOWN_FRETS, _POSITION = 12, 5
_STRETCHES = {
    3: "four frets, one finger each",
    4: "five frets: the little finger reaches one further",
    5: "six frets: the index finger reaches back, too",
}


def settings_form_html(settings: Settings = AS_IT_CAME, profile: Profile = USUAL) -> str:
    """The form, with nothing to take back."""
    # With anything kept, the form as it was built is not the one to show.
    return (
        f'<form class="desk settings" id="settings" data-desk="{as_data(STATE)}" data-neck autocomplete="off">'
        f"{fields_html(settings, profile)}</form>"
    )


def fields_html(
    settings: Settings,
    profile: Profile = USUAL,
    typed: bool = False,
    faults: Mapping[str, str] | None = None,
    before: Settings | None = None,
    tapped: Tapped | None = None,
) -> str:
    """Everything in the form.

    ``typed``: the field of the tuning keeps what was typed there; ``faults``: a sentence by the name of a field on what
    was typed there. ``before``: what can be had back. ``tapped``: what came of the test of how late sound comes.
    """
    faults = faults or {}
    return (
        f'<div id="settings-page"><input type="hidden" name="shown" value="{_shown(settings)}">'
        f"{_instrument_fields(settings.instrument, profile, typed, faults.get('tuning', ''))}"
        f"{check('left', words('Left-handed: turn the pictures of the neck round', profile), settings.left_handed)}"
        f"{_stretch_field(settings.stretch, profile)}{_picture(settings, profile)}"
        f"{_sound(settings, profile, faults.get('late', ''), tapped)}"
        f"{'' if tapped and tapped.back else _undo(settings, before, profile)}</div>"
    )


def _shown(settings: Settings) -> str:
    """What the fields show, so that what was changed since can be told from them."""
    return escape(json.dumps(settings_as_json(settings)))


def strings_of(instrument: Instrument) -> str:
    """The open strings as they stand in the field: from low to high."""
    return ", ".join(map(str, instrument.strings))


def _instrument_fields(instrument: Instrument, profile: Profile, typed: bool, fault: str) -> str:
    tuning = tuning_of(instrument)
    names = [(name, words(name, profile)) for name in INSTRUMENTS]
    own = [] if tuning in INSTRUMENTS else [(OWN, words("a tuning of my own", profile))]
    chosen = tuning if tuning in INSTRUMENTS else OWN
    value = "" if typed else f' value="{escape(strings_of(instrument))}"'
    frets = [(str(count), str(count)) for count in FRETS]
    says = words("Notes as they sound, with their octave: C4 is middle C.", profile)
    return (
        f"{select('instrument', words('Instrument', profile), [*names, *own], chosen)}"
        f'<p class="field"><label for="tuning">{words("Open strings, from low to high", profile)}</label>'
        f'<input id="tuning" name="tuning" type="text" data-live maxlength="{LONGEST_TUNING}"{value}'
        ' aria-describedby="tuning-fault tuning-says" autocapitalize="off" autocomplete="off" spellcheck="false"></p>'
        f'<p class="fault" id="tuning-fault" role="status">{escape(fault)}</p>'
        f'<p class="says" id="tuning-says">{says}</p>'
        f"{select('frets', words('Frets', profile), frets, str(instrument.frets))}"
    )


def _stretch_field(stretch: int, profile: Profile) -> str:
    boxes = "".join(
        f'<label><input type="radio" name="stretch" value="{frets}"{" checked" if frets == stretch else ""}>'
        f"<span>{words(_STRETCHES[frets], profile)}</span></label>"
        for frets in REACH
    )
    care = words(
        "A stretch that hurts is too wide: take a smaller one, and rest. A teacher or a clinician knows your hand "
        "better than a web page.",
        profile,
    )
    legend = words("What my hand takes comfortably without moving", profile)
    return f'<fieldset><legend>{legend}</legend>{boxes}<p class="care">{care}</p></fieldset>'


def _picture(settings: Settings, profile: Profile) -> str:
    """The neck, with the frets that the hand reaches from one position."""
    instrument = settings.instrument
    low, high = instrument.strings[0], instrument.strings[-1]
    says = words(
        "{count} strings from {low} to {high}, {frets} frets. Marked: what a hand reaches at the {position}th.",
        profile, count=len(instrument.strings), low=low, high=high, frets=instrument.frets, position=_POSITION,
    )  # fmt: skip
    dots = _reached(instrument, settings.stretch)
    picture = neck_svg(instrument, 0, _SHOWN_FRETS, dots, "settings-neck", words("The neck", profile), says, profile)
    return f'<figure class="sketch">{picture}<figcaption>{says}</figcaption></figure>'


def _reached(instrument: Instrument, stretch: int) -> Sequence[Dot]:
    below, above = REACH[stretch]
    own = range(_POSITION, _POSITION + 4)
    return [
        Dot(Place(string, fret), "", CHORD_TONE if fret in own else EXTENSION, fret not in own)
        for string in range(1, len(instrument.strings) + 1)
        for fret in range(_POSITION - below, _POSITION + above + 1)
    ]


def _sound(settings: Settings, profile: Profile, fault: str, tapped: Tapped | None) -> str:
    """The switch for who wants it quiet, and how late sound comes."""
    says = words("Mixed rounds and lists leave them out; the page of such a drill still works.", profile)
    return (
        f'<section class="sound"><h2>{words("Sound", profile)}</h2>'
        f"{check('quiet', words('Quiet: no drills by ear', profile), settings.quiet)}"
        f'<p class="says">{says}</p>{late_html(settings.late, profile, fault, tapped)}</section>'
    )


def _undo(settings: Settings, before: Settings | None, profile: Profile) -> str:
    """The way to the settings as at first, and back; far from what is tapped, and not there while that sounds."""
    if before is not None:
        made = button("back", words("Take that back", profile))
    elif settings != AS_IT_CAME:
        made = button("usual", words("All settings as at first", profile))
    else:
        return ""
    return f'<section class="afresh"><p class="buttons">{made}</p></section>'
