"""What a page says where the player wants it quiet: no drills by ear.

Everything stands in the page always; the style sheet shows or hides it by the class ``quiet`` of the page, which
docs/app/boot.js sets before anything is painted.
"""

from __future__ import annotations

from engine.drills.catalogue import Entry
from engine.theory.wording import USUAL, Profile
from engine.view.markup import escape, words


def kind_of(entry: Entry) -> str:
    """The attribute of what a quiet page leaves out, empty for what it shows."""
    return ' class="needs-ear"' if entry.by_ear else ""


def left_out_html(settings: str, profile: Profile = USUAL) -> str:
    """The line below a list with drills by ear in it; ``settings`` is the address of the settings' page."""
    return _line("Quiet is on: the drills by ear are left out here.", settings, profile)


def still_works_html(settings: str, profile: Profile = USUAL) -> str:
    """The line on the page of a drill by ear."""
    return _line("Quiet is on; here it still works.", settings, profile)


def _line(sentence: str, settings: str, profile: Profile) -> str:
    return (
        f'<p class="hushed">{words(sentence, profile)}'
        f' <a href="{escape(settings)}">{words("Settings", profile)}</a></p>'
    )
