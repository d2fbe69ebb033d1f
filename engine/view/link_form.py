"""The small form that makes a link to exactly one drill, from the drill's own options."""

from __future__ import annotations

from engine.drills.catalogue import Entry
from engine.drills.options import ANSWERED_ON
from engine.lines.line import Line
from engine.practice.drill_link import LONGEST_WORDS
from engine.theory.key import MAJOR_KEYS
from engine.theory.pitch import parse_pitch
from engine.theory.wording import USUAL, Kind, Profile, render, say
from engine.view.markup import escape, plain, words

COUNTS = (5, 10, 20)
LEVELS = {1: "three common keys", 2: "all twelve keys", 3: "altered chords too"}


def link_form_html(entry: Entry, profile: Profile = USUAL) -> str:
    """The form of one drill; what it leaves open stands for "as the level has it"."""
    roots = [(root, plain(parse_pitch(root), profile)) for root in MAJOR_KEYS]
    kinds = [(kind, _kind(kind, profile)) for kind in entry.kinds]
    levels = [(str(level), words(text, profile)) for level, text in LEVELS.items()]
    counts = [(str(count), str(count)) for count in COUNTS]
    same = [("1", words("yes", profile))]
    on = ""
    if entry.keyboard:
        tapped = [(name, words(f"the {name}", profile)) for name in ANSWERED_ON]
        on = _group("on", words("Tapped on", profile), tapped, "radio", ANSWERED_ON[0])
    return (
        f'<form class="link-form" id="link-form" data-drill="{escape(entry.slug)}" autocomplete="off">'
        f"{_group('level', words('Level', profile), levels, 'radio', '1')}"
        f"{_group('count', words('Questions', profile), counts, 'radio', str(entry.count))}"
        f"{on}{_group('keys', words('Roots or keys (none chosen: the level’s own)', profile), roots, 'checkbox')}"
        f"{_group('chords', words('Kinds of chord (none chosen: the level’s own)', profile), kinds, 'checkbox')}"
        f"{_group('seed', words('The same questions for everyone', profile), same, 'checkbox')}"
        f'<p class="link-words"><label for="link-words">{words("A sentence for whoever opens it", profile)}</label>'
        f'<input id="link-words" name="words" type="text" maxlength="{LONGEST_WORDS}" dir="auto"></p>'
        '<p id="link-line"></p>'
        f'<p class="link-made"><label for="link-text">{words("The link", profile)}</label>'
        '<input id="link-text" type="text" readonly></p>'
        '<p class="link-ways">'
        f'<button type="button" data-link="copy">{words("Copy", profile)}</button>'
        f'<button type="button" data-link="share" hidden>{words("Share", profile)}</button>'
        f'<button type="button" data-link="qr">{words("Show as a picture to scan", profile)}</button>'
        f'<a class="button" id="link-open" href="#">{words("Play it here", profile)}</a></p>'
        '<p id="link-said" role="status"></p><div id="link-qr"></div></form>'
    )


def about_line(line: Line, profile: Profile = USUAL) -> str:
    """Which line the link takes along, and what the levels mean for it; plain text."""
    levels = "Level 1 keeps it in its own key, the others take it through all twelve."
    if line.title:
        return render(say("It asks about “{title}”. {levels}", title=line.title, levels=say(levels)), profile)
    return render(say("It asks about the line that this page was opened with. {levels}", levels=say(levels)), profile)


def _kind(kind: str, profile: Profile) -> str:
    return words("triad", profile) if kind == "maj" else plain(Kind(kind), profile)


def _group(name: str, legend: str, rows: list[tuple[str, str]], kind: str, chosen: str = "") -> str:
    boxes = "".join(
        f'<label><input type="{kind}" name="{name}" value="{escape(value)}"{" checked" if value == chosen else ""}>'
        f"<span>{label}</span></label>"
        for value, label in rows
    )
    return f"<fieldset><legend>{legend}</legend>{boxes}</fieldset>"
