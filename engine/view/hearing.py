"""What has to do with hearing: the button that plays, the tempo, how eighths swing, the count-in."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from fractions import Fraction

from engine.lines.line import Line
from engine.practice.band import Band, write_band
from engine.practice.hearing import HEARD, Hearing, tempo_of
from engine.practice.line_in_link import handed_on
from engine.practice.reached import reached_text
from engine.practice.setting import MOST_COUNTED, SWING, TEMPO, texts
from engine.sound.event import FASTEST, SLOWEST
from engine.theory.bad_input import BadInput, shown
from engine.theory.wording import Profile, render, say
from engine.view.line_fields import check, select
from engine.view.markup import as_data, escape, on_off, plain, section, words

CAUTION = "Keep the volume where you could still talk over it, and rest before you are tired."
# Ratios that players ask for, and what they call them.
RATIOS = {
    "": "by the tempo", "1": "straight", "1.5": "3 : 2", "1.67": "5 : 3", "2": "2 : 1, triplets", "3": "3 : 1",
}  # fmt: skip
_COUNTS = {0: "none", 1: "one bar", 2: "two bars"}


def hear_section_html(line: Line, hearing: Hearing, profile: Profile, marks: Mapping[str, int] | None = None) -> str:
    """The section of a line's page; ``marks``: the tempo by the name of the key in which it was reached."""
    caution = f'<p class="caution">{words(CAUTION, profile)}</p>'
    told = reached_text(marks or {})
    fields, onward = hearing_html(line, hearing, profile), _to_band(line, hearing, profile)
    body = f"{play_html('line', profile)}{unused_html()}{fields}{caution}{onward}"
    if told:
        body += f'<p class="reached">{plain(told, profile)}</p>'
    return section("hear", "Hear it", body, profile)


def _to_band(line: Line, hearing: Hearing, profile: Profile) -> str:
    """The way to the band with this line; nothing where it is too long for a link."""
    try:
        link = write_band(Band((handed_on(line),), tempo=tempo_of(hearing, line), swing=hearing.swing))
    except BadInput:
        return ""
    label = words("Through the keys with the band", profile)
    return f'<p class="buttons to-band"><a class="button" href="../band.html#{escape(link)}">{label}</a></p>'


def play_html(what: str, profile: Profile, more: str = "") -> str:
    """The button that plays and stops; ``more`` are attributes."""
    return (
        f'<p class="play"><button type="button" data-hear="{what}" aria-pressed="false"{more}>'
        f"{on_off(words('Play', profile), profile)}</button></p>"
    )


def unused_html(sentences: Iterable[str] = ()) -> str:
    """Beside the button that plays: what was typed and is not used for what sounds, a sentence each."""
    return f'<p class="fault" id="unused" role="status">{" ".join(map(escape, sentences))}</p>'


def unused_tempo(fields: Mapping[str, Sequence[str]], tempo: int) -> str:
    """That the tempo in the field is none that can be played, and which one is instead."""
    typed = shown((fields.get(TEMPO.name) or [""])[0])
    return render(say("The tempo {typed} is not used: {least} to {most} are possible, and {tempo} is played.",
                      typed=typed, least=SLOWEST, most=FASTEST, tempo=tempo))  # fmt: skip


def hearing_html(line: Line, hearing: Hearing, profile: Profile, faults: Mapping[str, str] | None = None) -> str:
    """The fields of a line's page; ``faults``: a sentence by the name of a field on what was typed there."""
    faults = faults or {}
    tempo = tempo_of(hearing, line)
    shown = {**texts(hearing, HEARD), TEMPO.name: str(tempo)}
    return (
        f'<div class="hearing" id="hearing"><input type="hidden" name="heard" value="{as_data(shown)}">'
        f"{tempo_html(tempo, faults.get(TEMPO.name, ''), profile)}"
        f'<div class="switches">{switch_html("band", words("With the band", profile), hearing.band)}'
        f"{switch_html('loop', words('In a loop', profile), hearing.loop)}</div>"
        f'<div class="pair">{swing_html(hearing.swing, profile)}{count_in_html(hearing.count_in, profile)}</div></div>'
    )


def tempo_html(tempo: int, fault: str, profile: Profile) -> str:
    """The tempo with its two steps; where there is a ``fault``, what was typed stays."""
    label = words("Tempo, {least} to {most}", profile, least=SLOWEST, most=FASTEST)
    value = "" if fault else f' value="{tempo}"'
    step = '<button type="button" name="tempo" value="{}" aria-label="{}"{}>{}</button>'
    slower = step.format("-", words("Slower", profile), " disabled" if tempo <= SLOWEST else "", "−")
    faster = step.format("+", words("Faster", profile), " disabled" if tempo >= FASTEST else "", "+")
    return (
        f'<div class="tempo"><label for="tempo">{label}</label>{slower}'
        f'<input id="tempo" name="tempo" type="text" inputmode="numeric" maxlength="4"{value}'
        f' aria-describedby="tempo-fault" autocomplete="off">{faster}</div>'
        f'<p class="fault" id="tempo-fault" role="status">{escape(fault)}</p>'
    )


def switch_html(name: str, label: str, is_on: bool) -> str:
    """A box to tick that stands for on and off."""
    return check(name, label, is_on).replace('value="yes"', 'value="on"')


def swing_html(swing: Fraction | None, profile: Profile) -> str:
    """How eighths swing: from the table, or as a link has it."""
    chosen = "" if swing is None else SWING.write(swing)
    rows = [(value, words(label, profile)) for value, label in RATIOS.items()]
    return select("swing", words("Swing", profile), with_chosen(rows, chosen), chosen)


def count_in_html(bars: int, profile: Profile) -> str:
    """How many bars are counted in."""
    rows = [(str(count), words(_COUNTS[count], profile)) for count in range(MOST_COUNTED + 1)]
    return select("count-in", words("Count-in", profile), rows, str(bars))


def with_chosen(rows: Iterable[tuple[str, str]], chosen: str) -> Sequence[tuple[str, str]]:
    """The rows, and one more for what was chosen elsewhere than here."""
    every = list(rows)
    return every if chosen in dict(every) else [*every, (chosen, escape(chosen))]
