"""What the page of a line shows of the neck: TAB, ways to choose from, a note's places, pictures of the neck."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

from engine.drills.question import Shape
from engine.lines.devices.recognise import Analysis
from engine.lines.reading import Heard
from engine.neck.easier import Saving
from engine.neck.fingering import Way
from engine.neck.hand import OPEN
from engine.neck.instrument import Instrument, Place
from engine.neck.sentences import note_text, position_text, shifts_text
from engine.practice.fingered import Fingered, lowest
from engine.practice.line_on_neck import OnNeck
from engine.theory.chord import Chord
from engine.theory.naming import Naming, name_over
from engine.theory.pitch import Pitch
from engine.theory.wording import Profile, Text, say
from engine.view.engraving import Tab, place_text
from engine.view.line_fields import button
from engine.view.marks import LEFT_OUT, legend
from engine.view.markup import escape, plain, prose, section, words
from engine.view.neck import WIDTH, Dot, neck_svg

LEAST_FRETS = 5
# With more frets than this in one picture, each chord has the part of the neck that it uses.
MOST_FRETS = 12

_LABELS = {"degrees": "Degrees", "notes": "Note names"}


def tab_of(found: Fingered, neck: OnNeck) -> Tab | None:
    """The TAB of the chosen way; None where the line cannot be played."""
    if found.chosen is None:
        return None
    held = frozenset(index for index, _ in found.held)
    return Tab(len(found.instrument.strings), found.chosen.places, held, asks=True, tapped=neck.tapped)


def beside_staff_html(found: Fingered, profile: Profile) -> str:
    """What stands at the staff: why there is no TAB, and what helps; or for a handout which way the TAB is."""
    if found.chosen is None:
        return f'<div class="no-tab"><p>{prose(found.text, profile)}</p>{_moves(found, profile)}</div>'
    way = found.chosen
    told = words("The TAB: {position}, {shifts}.", profile, position=position_text(way), shifts=shifts_text(way))
    return f'<p class="tab-told">{told}</p>'


# --- the ways ------------------------------------------------------------------------


def neck_section_html(
    found: Fingered, neck: OnNeck, analysis: Analysis, better: Sequence[Saving] | None, profile: Profile
) -> str:
    """The section on the neck; ``better`` as for ``better_html``."""
    ways = "".join(_way_chip(way, way is found.chosen, profile) for way in found.ways)
    chips = f'<div class="picks ways" role="group" aria-label="{words("Ways", profile)}">{ways}</div>' if ways else ""
    # The same sentence is said again only where it changes.
    told = f'<p class="way-told" role="status">{prose(found.text, profile)}</p>'
    left_out = f'<p class="left-out-told">{prose(found.left_out, profile)}</p>' if found.left_out else ""
    body = (
        f"{chips}{told}{left_out}{_moves(found, profile)}{_backwards(neck, profile)}"
        f"{better_html(better or (), profile, bool(neck.own.held))}{_necks(found, neck, analysis, profile)}"
    )
    return section("on-neck", "On the neck", body, profile)


def _way_chip(way: Way, chosen: bool, profile: Profile) -> str:
    label = f"{plain(position_text(way), profile)} <small>{plain(shifts_text(way), profile)}</small>"
    return _pick("way", str(lowest(way)), label, chosen)


def _pick(name: str, value: str, label: str, chosen: bool) -> str:
    """A button among several, one of which is chosen."""
    state = "true" if chosen else "false"
    return f'<button type="button" name="{name}" value="{escape(value)}" aria-pressed="{state}">{label}</button>'


def _moves(found: Fingered, profile: Profile) -> str:
    """The button that brings a line onto the neck which lies outside."""
    if not found.moves:
        return ""
    value = ",".join(str(count) if index is None else f"{index}:{count}" for index, count in found.moves)
    (index, count), *_ = found.moves
    if index is not None:
        label = words("Move these notes onto the neck", profile)
    elif abs(count) == 1:
        label = words("Play it an octave higher" if count > 0 else "Play it an octave lower", profile)
    else:
        label = words("Play it two octaves higher" if count > 0 else "Play it two octaves lower", profile)
    return f'<p class="buttons">{button("octave", label, value)}</p>'


def _backwards(neck: OnNeck, profile: Profile) -> str:
    undo = button("undo", words("Undo", profile), able=bool(neck.undo))
    free = button("free", words("Let all go", profile), able=bool(neck.own.held))
    return f'<p class="buttons">{undo}{free}</p>'


def better_html(better: Iterable[Saving], profile: Profile, holds: bool = False) -> str:
    """What would lie better, each with the button that does it; ``holds``: whether any note is held."""
    # Of a line that moves all over, no note lies where it was held.
    lost = f" {words('What is held is let go.', profile)}" if holds else ""
    items = ""
    for one in better:
        act = button("octave", words("Do it", profile), _octaves(one))
        items += f"<li><span>{prose(one.text, profile)}{'' if one.index is not None else lost}</span> {act}</li>"
    title = words("What would lie better", profile)
    return f'<div id="better">{f"<h3>{title}</h3><ul>{items}</ul>" if items else ""}</div>'


def _octaves(saving: Saving) -> str:
    return str(saving.octaves) if saving.index is None else f"{saving.index}:{saving.octaves}"


# --- a note that was tapped ----------------------------------------------------------


def tapped_html(found: Fingered, neck: OnNeck, profile: Profile) -> str:
    """Where the tapped note can be played, to hold it there; empty where none is tapped."""
    if neck.tapped is None or found.chosen is None:
        return '<div class="note-places" id="tapped"></div>'
    index = neck.tapped
    here, held = found.chosen.places[index], dict(found.held).get(index)
    title = words("{note}: on which string?", profile, note=note_text(found.line, index))
    chips = ""
    for place in found.places_of(index):
        string = words("string {string}", profile, string=place.string)
        fret = plain(_fret_chip(place, here, held), profile)
        chips += _pick("hold", f"{index}:{place.string}", f"{string} <small>{fret}</small>", held == place.string)
    chips += _pick("hold", f"{index}:0", words("wherever it lies best", profile), held is None)
    undo = button("undo", words("Undo", profile), able=bool(neck.undo))
    free = button("free", words("Let all go", profile), able=bool(neck.own.held))
    # The focus goes back to the note.
    close = f'<button type="button" data-press="place {index}">{words("Done", profile)}</button>'
    return (
        f'<div class="note-places" id="tapped" role="group" aria-label="{title}"><p class="which">{title}</p>'
        f'<div class="picks">{chips}</div><p class="buttons">{undo}{free}{close}</p></div>'
    )


_FRET = "fret {fret}"
_HELD = "fret {fret} · held"
_NOW = "fret {fret} · now"


def _fret_chip(place: Place, here: Place, held: int | None) -> Text:
    return say(_HELD if held == place.string else _NOW if place == here else _FRET, fret=place.fret)


def tapped_text(found: Fingered, neck: OnNeck) -> Text | None:
    """What is said to those who listen when a note is tapped, or held elsewhere."""
    if neck.tapped is None or found.chosen is None:
        return None
    pitch = found.line.notes[neck.tapped].pitch.in_octave(None)
    return place_text(pitch, found.chosen.places[neck.tapped])


# --- pictures of the neck ----------------------------------------------------------------


def _necks(found: Fingered, neck: OnNeck, analysis: Analysis, profile: Profile) -> str:
    """A picture for each chord of the line that has notes, and the switch of what stands on them."""
    way = found.chosen
    if way is None:
        return ""
    switch = "".join(
        _pick("labels", name, words(label, profile), name == neck.labels) for name, label in _LABELS.items()
    )
    whole = window(way.places, found.instrument)
    wide = whole[1] - whole[0] >= MOST_FRETS
    pictures = ""
    for number, change in enumerate(analysis.line.changes):
        notes = {index: heard for index, heard in enumerate(analysis.notes) if heard.place == number}
        if notes:
            places = [way.places[index] for index in notes]
            frets = window(places, found.instrument) if wide else whole
            picture = _chord_neck(found.instrument, change.chord, notes, way, frets, number, neck.labels, profile)
            pictures += (
                f'<figure class="neck-figure"><figcaption>{plain(change.chord, profile)}</figcaption>{picture}</figure>'
            )
    label = words("On the pictures", profile)
    roles = [heard.naming.role for heard in analysis.notes]
    return (
        f'<div class="picks labels" role="group" aria-label="{label}">{switch}</div><div class="necks">{pictures}</div>'
        f'<svg class="picture neck-legend" viewBox="0 0 {WIDTH} 18" aria-hidden="true">'
        f"{legend(roles, 13, WIDTH, profile)}</svg>"
    )


def window(places: Sequence[Place], instrument: Instrument) -> tuple[int, int]:
    """The lowest and the highest fret of a picture that shows these places: five frets at least, 0 for open strings."""
    frets = [place.fret for place in places]
    low, high = min(frets), max(frets)
    if low == OPEN:
        return OPEN, max(high, LEAST_FRETS - 1)
    high = min(max(high, low + LEAST_FRETS - 1), instrument.frets)
    return max(1, min(low, high - LEAST_FRETS + 1)), high


def _chord_neck(
    instrument: Instrument,
    chord: Chord,
    notes: Mapping[int, Heard],
    way: Way,
    frets: tuple[int, int],
    number: int,
    labels: str,
    profile: Profile,
) -> str:
    dots: dict[Place, Dot] = {}
    for index, heard in notes.items():
        place, label = way.places[index], _label(heard.pitch, heard.naming, labels, profile)
        there = dots.get(place) or Dot(place, label, heard.naming.role)
        dots[place] = replace(there, notes=(*there.notes, index))
    told = tuple(_told(notes[index], way.places[index]) for index in notes)
    title = words("The notes over {chord} on the neck", profile, chord=chord)
    telling = words("{notes:and}.", profile, notes=told)
    return neck_svg(instrument, *frets, tuple(dots.values()), f"neck-{number}", title, telling, profile)


def _label(pitch: Pitch, naming: Naming, labels: str, profile: Profile) -> str:
    return plain(pitch.in_octave(None) if labels == "notes" else naming.degree, profile)


def _told(heard: Heard, place: Place) -> Text:
    note = place_text(heard.pitch.in_octave(None), place)
    return say("{note} ({degree})", note=note, degree=heard.degree)


def shape_neck_svg(
    found: Fingered, shape: Shape, notes: Sequence[int], name: str, labels: str, profile: Profile
) -> str:
    """An arpeggio where the chosen way has it, inside its chord; nothing where the line cannot be played.

    ``notes`` are the indexes of the shape's notes in the line. The chord's other tones stand back, its root, which is
    left out, among them.
    """
    way = found.chosen
    if way is None:
        return ""
    places = [way.places[index] for index in notes]
    low, high = window(places, found.instrument)
    dots = {}
    for index, place in zip(notes, places, strict=True):
        pitch = found.line.notes[index].pitch
        naming = name_over(shape.chord, pitch)
        dots[place] = Dot(place, _label(pitch, naming, labels, profile), naming.role, notes=(index,))
    for degree in shape.chord.degrees:
        tone = degree.over(shape.chord.root)
        naming = name_over(shape.chord, tone)
        role = LEFT_OUT if tone.pitch_class == shape.chord.root.pitch_class else naming.role
        for place in _everywhere(found.instrument, tone.pitch_class, low, high):
            dots.setdefault(place, Dot(place, _label(tone, naming, labels, profile), role, faint=True))
    title = words("{own} inside {chord}, on the neck", profile, own=shape.own, chord=shape.chord)
    told = tuple(place_text(found.line.notes[index].pitch.in_octave(None), way.places[index]) for index in notes)
    telling = words("{notes:and}. The other tones of {chord} stand back.", profile, notes=told, chord=shape.chord)
    return neck_svg(found.instrument, low, high, tuple(dots.values()), name, title, telling, profile)


def _everywhere(instrument: Instrument, pitch_class: int, low: int, high: int) -> list[Place]:
    return [
        Place(string, fret)
        for string, lowest_note in enumerate(instrument.opens, 1)
        for fret in range(low, high + 1)
        if (lowest_note + fret) % 12 == pitch_class
    ]
