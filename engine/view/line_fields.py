"""The fields for what a player says of a line, and the small pieces that forms are made of."""

from __future__ import annotations

from collections.abc import Sequence

from engine.lines.line import Line
from engine.lines.use import USES, use_of
from engine.practice.said_of_line import LONGEST, LONGEST_NOTE, is_to_study
from engine.theory.key import Key
from engine.theory.wording import Profile
from engine.view.markup import escape, words


def said_fields_html(line: Line | None, profile: Profile, own: str = "") -> str:
    """Title, source, note to self, still to study; empty without a line. ``own`` tells the fields of lines apart."""
    note = "\n".join(line.remarks) if line else ""
    study = line is not None and is_to_study(line.group)
    return (
        f"{text_field('title', words('Title', profile), line.title if line else None, own)}"
        f"{text_field('source', words('Taken from (tune and bar)', profile), line.source if line else None, own)}"
        f"{area_field('remarks', words('Note to self', profile), note, 2, LONGEST_NOTE, own)}"
        f"{check('study', words('Still to study', profile), study)}"
    )


def use_html(line: Line, key: Key, profile: Profile) -> str:
    """What a line is for and in which key it is shown; the key alone where it fits no use that has a name."""
    use = use_of(line)
    if use == "other":
        return words("In {key}", profile, key=key)
    return words("{use}, in {key}", profile, use=USES[use], key=key)


def text_field(name: str, label: str, value: str | None, own: str = "") -> str:
    """A field of one row; ``label`` is HTML. Without a value it keeps what was typed there.

    ``own`` makes its id another one than that of the same field elsewhere.
    """
    filled = "" if value is None else f' value="{escape(value)}"'
    return (
        f'<p class="field"><label for="{name}{own}">{label}</label><input id="{name}{own}" name="{name}" type="text"'
        f' maxlength="{LONGEST}"{filled} autocomplete="off"></p>'
    )


def area_field(name: str, label: str, value: str, rows: int, most: int, own: str = "") -> str:
    """A field of several rows."""
    return (
        f'<p class="field"><label for="{name}{own}">{label}</label>'
        f'<textarea id="{name}{own}" name="{name}" rows="{rows}" maxlength="{most}" spellcheck="false">'
        f"\n{escape(value)}</textarea></p>"
    )


def check(name: str, label: str, is_on: bool) -> str:
    """A box to tick."""
    state = " checked" if is_on else ""
    return f'<p class="check"><label><input type="checkbox" name="{name}" value="yes"{state}> {label}</label></p>'


def select(name: str, label: str, rows: Sequence[tuple[str, str]], chosen: str) -> str:
    """A list to choose one from: its values, and what is shown for each as HTML."""
    options = "".join(
        f'<option value="{escape(value)}"{" selected" if value == chosen else ""}>{shown}</option>'
        for value, shown in rows
    )
    return (
        f'<p class="field"><label for="{name}">{label}</label><select id="{name}" name="{name}">{options}</select></p>'
    )


def button(name: str, label: str, value: str = "", kind: str = "", able: bool = True) -> str:
    """A button that the engine answers; ``kind`` is its class."""
    named = f' class="{kind}"' if kind else ""
    state = "" if able else " disabled"
    return f'<button type="button" name="{name}" value="{escape(value)}"{named}{state}>{label}</button>'
