"""Settings that stand in links and in fields of a form: rows of a table say how each is read and written."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Any, TypeVar
from urllib.parse import unquote

from engine.sound.event import FASTEST, SLOWEST
from engine.sound.feel import MOST as MOST_SWING
from engine.theory.bad_input import BadInput
from engine.theory.bad_input import shown as shown_token

MOST_COUNTED = 2  # bars of a count-in
_SWITCH = {"on": True, "off": False}

Fields = Mapping[str, Sequence[str]]
Made = TypeVar("Made")


@dataclass(frozen=True, slots=True)
class Setting:
    """A row: its ``name`` in a link and in a form, the ``field`` of what is set, how it is read and written.

    ``possible`` says what can be set, where that is told in a few words. ``absent`` is what a form means that does not
    send it, a box without its tick for one; an empty text stands for what is usual.
    """

    name: str
    field: str
    example: str
    meaning: str
    read: Callable[[str], Any]
    write: Callable[[Any], str] = str
    absent: str = ""
    possible: str = ""


def whole(what: str, least: int, most: int) -> Callable[[str], int]:
    """What reads a whole number within bounds."""

    def read(text: str) -> int:
        digits = text.isascii() and text.isdigit() and len(text) < 18
        if not digits or not least <= int(text) <= most:
            raise BadInput(text, 1, f"is no {what}", f"write a whole number from {least} to {most}")
        return int(text)

    return read


def number(name: str, field: str, example: str, meaning: str, what: str, least: int, most: int) -> Setting:
    """The row of a whole number within bounds; ``what`` it is called where it is none."""
    possible = f"{least} to {most} are possible"
    return Setting(name, field, example, meaning, whole(what, least, most), possible=possible)


def one_of(what: str, names: Sequence[str]) -> Callable[[str], str]:
    """What reads one of some names."""

    def read(text: str) -> str:
        if text not in names:
            raise BadInput(text, 1, f"is no {what}", f"write one of {', '.join(names)}")
        return text

    return read


def ratio(text: str) -> Fraction:
    """A swing ratio from 1 on, such as 1.7."""
    whole_part, point, digits = text.partition(".")
    plain = whole_part.isascii() and whole_part.isdigit() and len(text) < 6
    if plain and (not point or (digits.isascii() and digits.isdigit())) and 1 <= Fraction(text) <= MOST_SWING:
        return Fraction(text)
    raise BadInput(text, 1, "is no swing ratio", f"write a number from 1 (straight) to {MOST_SWING}, for example 1.7")


def switch(name: str, field: str, meaning: str) -> Setting:
    """The row of what is on or off."""
    read = one_of("switch", tuple(_SWITCH))
    return Setting(name, field, "on", meaning, lambda text: _SWITCH[read(text)], _on_or_off, "off")


def _on_or_off(on: bool) -> str:
    return "on" if on else "off"


# What is set wherever something is played.
TEMPO = number("tempo", "tempo", "140", "quarter notes a minute", "tempo", SLOWEST, FASTEST)
SWING = Setting("swing", "swing", "1.7", "the ratio of two eighths, 1 for straight", ratio, lambda r: f"{float(r):g}")
COUNT_IN = number("count-in", "count_in", "2", "bars that are counted in", "count-in", 0, MOST_COUNTED)


def texts(made: Any, settings: Sequence[Setting]) -> dict[str, str]:
    """What each setting is, as a link or a field has it; "" for None and for nothing at all."""
    return {one.name: _text(one, getattr(made, one.field)) for one in settings}


def _text(setting: Setting, value: Any) -> str:
    return "" if value is None or value == () else setting.write(value)


def told(made: Any, usual: Any, settings: Sequence[Setting]) -> dict[str, str]:
    """The same of those settings alone that are not as usual."""
    before, now = texts(usual, settings), texts(made, settings)
    return {name: text for name, text in now.items() if text != before[name]}


def with_text(made: Made, usual: Made, setting: Setting, text: str) -> Made:
    """With one thing set as a text says; BadInput where it cannot be read."""
    value = setting.read(text) if text else getattr(usual, setting.field)
    return replace(made, **{setting.field: value})  # type: ignore[type-var]


def with_texts(made: Made, settings: Sequence[Setting], found: object) -> Made:
    """With all that a form's state says; what cannot be read stays."""
    given: Mapping[str, Any] = found if isinstance(found, Mapping) else {}
    for one in settings:
        text = given.get(one.name)
        if isinstance(text, str) and text:
            try:
                made = with_text(made, made, one, text)
            except BadInput:
                continue
    return made


def with_fields(
    made: Made, usual: Made, settings: Sequence[Setting], fields: Fields, shown: object
) -> tuple[Made, dict[str, str]]:
    """With what was filled in since the form showed the texts ``shown``; a sentence for each that cannot be read."""
    faults: dict[str, str] = {}
    before: Mapping[str, Any] = shown if isinstance(shown, Mapping) else {}
    for one in settings if before else ():
        values = fields.get(one.name, ())
        text = ",".join(map(str, values)).strip() if values else one.absent
        if text != before.get(one.name, ""):
            try:
                made = with_text(made, usual, one, text)
            except BadInput as bad:
                faults[one.name] = f'"{shown_token(bad.token)}" {bad.problem}: {bad.instead}.'
    return made, faults


def not_used(bad: BadInput, setting: Setting | None = None) -> str:
    """A sentence on a part of a link that cannot be read, and on what would be possible; ``setting``: its row."""
    instead = (setting.possible if setting else "") or bad.instead
    token, what = shown_token(bad.token), bad.problem.removeprefix("is no ")
    if what == bad.problem:
        return f'"{token}" {bad.problem}, so that part of the link is not used: {instead}.'
    return f"The {what} {token} of the link is not used: {instead}."


def part_of_link(made: Made, settings: Mapping[str, Setting], name: str, value: str) -> Made:
    """With what a part of a link says, quoted as it stands there."""
    setting = settings[name]
    if not value:
        raise BadInput(f"{name}=", 1, "is empty", f"write for example {name}={setting.example}")
    return with_text(made, made, setting, unquote(value))
