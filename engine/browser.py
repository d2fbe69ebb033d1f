"""The few functions that the page may call: one request in, one answer out, both JSON text.

Stateless: a request carries the round's plan and the answers given so far, so
a worker that died is simply started again and asked the same.

A request says what to ``do``:

``{}``
    Nothing; the answer shows that the engine is there.
``open``: drill, link, count, seed, settings
    The round that a page and the part of its link behind ``#`` ask for, on the instrument of the settings:
    ``plan``, ``html`` and ``notice`` (what of the link was ignored, or null).
``show``: plan, answers
    The round of a plan again, with its answers: ``plan`` and ``html``.
``grade``: plan, answers
    ``records``, one for each answered question, and ``patches``: HTML by the id of the element that it fills.
``link``: drill, fields (by option, the values as typed), chance (a number, the seed where one is wanted), plan
    ``link``, the part behind ``#``, with the line of the plan; ``line``, a sentence on that line, empty without one;
    and ``notice`` as above.
``qr``: text
    ``html``, the text as a QR code. The pack "segno" must be loaded.
``export``: records, own (those of own lines)
    ``text``, a file of them, and of the settings.
``import``: text, own, at
    ``records`` of a file of records, and ``lines``, those of own lines that are not there yet; ``settings`` where the
    file has some and none are kept; ``told`` and ``notice``, sentences on these and on what was left out, or null.
``line``: a form's state and what was done in it, as engine/practice/shown_line.py reads it; own
    The line's page, in the key, over the next chord and in the way that it asks for.
``book``: book (the text of engine/practice/book.py), fields
    The lines of the book that have all that is wished for.
``line file``: abc (one line), key (a tonic to move it to, or null), to ("abc", "musicxml", "midi", "text")
    ``file``: ``name``, ``type`` and ``text`` or ``base64``; or ``pack``, the pack to load before asking again.
``own lines``: own (their records), and the form's state (engine/view/own_lines_desk.py)
    The list of the player's own lines, one of them, or a line that came with a link.
``entry``: own, and the form's state (engine/view/entry_desk.py)
    A line as it is tapped in.
``settings``: before (what can be had back), and the form's state (engine/view/settings_desk.py)
    The settings: what of the instrument and of the hand every page goes by.
``band``: own, and the form's state (engine/view/band_desk.py)
    What the band is to play, and the tempos that were reached.
``hear``: plan, answers, place (which question of the round, from 0), what ("asked", "yours", "right")
    ``sound``: what is given, the choice that was taken, or the right one, as docs/app/band.js plays it.
``follow``: plan, answers, how ("once more", "only missed", "wider", "narrower"), early
    The round that follows: ``plan`` and ``html``. After a mixed round it has questions by ear, unless ``settings`` say
    quiet, or it is made ``early`` and nothing shall be loaded for it.

Every request that does something has ``settings`` beside that, where some are kept (engine/practice/settings.py).

What a form of the page asks (from ``line`` to ``band``) has beside its own state ``fields`` (by name, the values filled
in), ``pressed`` (a button's name and value, or null; "open" when the page has come), ``link`` (what stands behind #),
``at`` (milliseconds since 1970) and ``chance``. Its answer may have: ``patches``; ``desk``, the form's new state;
``link``; ``kept``, the link on which the form's page opens next time without one; ``keep``, records to add of own lines
and of how lines are played; ``then``, what is pressed next as if by the player, and ``ahead``, what is when there is
nothing else to do; ``go``, the address of a page to go to; ``notice`` and ``said``, sentences to show and to say;
``settings`` to keep from now on, null for none; ``file`` with name, type and text or base64; ``share`` with title and
address; ``sound``, what a button that was pressed for it plays (``as_json`` of engine/sound/event.py, with ``more``,
what is pressed to hear what follows, where it is a part); ``replay``, whether what sounds just now is to begin anew.

Any answer may be ``pack`` alone: the name of one that must be loaded before the same is asked again. Where that pack
cannot be had, the same is asked with its name as ``lacking``; a second ``pack`` then says that there is no answer
without.

``answers`` is a list of ``{index, choice, ms}``, in the order given; indexes
count from 0 within the round. A bad request is answered with ``error``, one sentence.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Callable, Mapping, Sequence
from importlib import import_module
from typing import TYPE_CHECKING, Any
from urllib.parse import quote

from engine.drills.catalogue import BY_SLUG
from engine.practice.drill_link import read_drill_link, write_drill_link
from engine.practice.line_in_link import to_link
from engine.practice.own_records import is_line_record, new_records
from engine.practice.records import as_file, read_file, records_of
from engine.practice.round import Answer, Plan, Round
from engine.practice.rounds import (
    as_wanted,
    first_plan,
    make_round,
    narrower,
    once_more,
    only_missed,
    plan_as_json,
    plan_from_json,
    wider,
)
from engine.theory.bad_input import BadInput
from engine.theory.wording import render, say
from engine.view.link_form import about_line
from engine.view.qr import qr_html
from engine.view.round import progress_html, result_html, round_html

if TYPE_CHECKING:
    from importlib.machinery import ModuleSpec
    from types import ModuleType

Request = Mapping[str, Any]

OWN = "engine."
# The pack of those of the engine's modules that a first round does without (docs/hooks/library.py).
MORE = "more"

FOLLOWING: dict[str, Callable[[Round], Plan]] = {
    "once more": once_more,
    "only missed": only_missed,
    "wider": wider,
    "narrower": narrower,
}


def call(request_text: str) -> str:
    """Answer one request; both are JSON text."""
    try:
        request = json.loads(request_text)
        answer = _answer(request) if request else {}
    except BadInput as bad:
        answer = {"error": str(bad)}
    except ModuleNotFoundError as missing:
        if not str(missing.name).startswith(OWN):
            raise
        answer = {"pack": MORE}
    except (KeyError, TypeError, ValueError) as fault:
        answer = {"error": f"The page asked for something that the engine does not know ({fault})."}
    return json.dumps(answer, ensure_ascii=False)


def _answer(request: Request) -> dict[str, Any]:
    name = str(request["do"])
    if desk := DESKS.get(name):
        answer: dict[str, Any] = import_module(f"{OWN}view.{desk}").answer(request)
        return answer
    if name not in VERBS:
        instead = f"ask for one of {', '.join([*VERBS, *DESKS])}"
        raise BadInput(name, 1, "is nothing the engine does", instead)
    return VERBS[name](request)


def _open(request: Request) -> dict[str, Any]:
    drill, kept = str(request["drill"]), request.get("settings")
    # Only a drill on the neck needs them, so that no other waits for the module.
    on_neck = kept is not None and drill in BY_SLUG and BY_SLUG[drill].neck
    settings = import_module(f"{OWN}practice.settings").read_settings(kept) if on_neck else None
    count, seed = int(request.get("count", 10)), int(request.get("seed", 1))
    plan, link = first_plan(drill, str(request.get("link", "")), count, seed, settings)
    return {**_page(make_round(plan)), "notice": " ".join(link.ignored) or None}


def _show(request: Request) -> dict[str, Any]:
    return _page(_round(request))


def _grade(request: Request) -> dict[str, Any]:
    round_ = _round(request)
    patches = {"progress": progress_html(round_), "result": result_html(round_)}
    return {"records": records_of(round_), "patches": patches}


def _hear(request: Request) -> dict[str, Any]:
    # Nothing of sound is there at the start: see ``open_pack``.
    from engine.practice.heard import sound_of
    from engine.sound.event import as_json

    round_, place = _round(request), int(request["place"])
    if not 0 <= place < len(round_.questions):
        raise BadInput(str(place), 1, "is no question of this round", "open the drill's page again")
    taken = round_.chosen.get(place)
    return {"sound": as_json(sound_of(round_.questions[place], str(request["what"]), taken.choice if taken else None))}


def _follow(request: Request) -> dict[str, Any]:
    how = FOLLOWING.get(str(request["how"]))
    if how is None:
        raise BadInput(str(request["how"]), 1, "is no way to go on", f"ask for one of {', '.join(FOLLOWING)}")
    round_, kept = _round(request), request.get("settings")
    # Where the pack with the drills by ear cannot be had, or is not wanted yet, the others are there.
    without = request.get("lacking") == MORE or request.get("early") is True
    quiet = without or (isinstance(kept, Mapping) and kept.get("quiet") is True)
    return _page(make_round(as_wanted(how(round_), round_, quiet)))


def _round(request: Request) -> Round:
    answers = tuple(
        Answer(int(answer["index"]), int(answer["choice"]), answer.get("ms")) for answer in request.get("answers", [])
    )
    return make_round(plan_from_json(request["plan"]), answers)


def _page(round_: Round) -> dict[str, Any]:
    return {"plan": plan_as_json(round_.plan), "html": round_html(round_)}


def _link(request: Request) -> dict[str, Any]:
    typed = {str(name): ",".join(map(str, values)) for name, values in dict(request["fields"]).items()}
    if "seed" in typed:
        typed["seed"] = str(int(request["chance"]))
    parts = [f"{name}={quote(text)}" for name, text in typed.items() if text]
    shown = read_drill_link(plan_from_json(request["plan"]).options).options.line
    if shown:
        parts.append(f"line={to_link(shown)}")
    _, link = first_plan(str(request["drill"]), "&".join(parts))
    line = link.options.line
    return {
        "link": write_drill_link(link.options, link.set, link.words),
        "line": about_line(line) if line else "",
        "notice": " ".join(link.ignored) or None,
    }


def _qr(request: Request) -> dict[str, Any]:
    return {"html": qr_html(str(request["text"]))}


def _export(request: Request) -> dict[str, Any]:
    return {"text": as_file(list(request["records"]), list(request["own"]), request.get("settings"))}


def _import(request: Request) -> dict[str, Any]:
    found = read_file(str(request["text"]))
    count = found.left_out
    notice = render(say("{count} entries were no records and were left out.", count=count)) if count else None
    lines = new_records(found.lines, list(request["own"]), int(request["at"]))
    count = len({record["id"] for record in lines if is_line_record(record)})
    told = [render(say("{count} of your own lines came along.", count=count))] if count else []
    answer: dict[str, Any] = {"records": found.records, "lines": lines, "notice": notice}
    if found.settings and not request.get("settings"):
        # Little of this is there at the start: see ``open_pack``.
        from engine.practice.settings import read_settings
        from engine.view.settings_desk import to_keep

        if settings := to_keep(read_settings(found.settings)):
            answer["settings"] = settings
            told.append(render(say("Your settings came along.")))
    return {**answer, "told": " ".join(told) or None}


def _line_file(request: Request) -> dict[str, Any]:
    # Little of this is there at the start: see ``open_pack``.
    from engine.formats.abc import read_abc
    from engine.lines.moving import key_for, moved_to
    from engine.theory.key import parse_key
    from engine.view.line_desk import file_of

    line, *others = read_abc(str(request["abc"]))
    if others:
        raise BadInput(line.title, 1, f"is one of {len(others) + 1} lines", "a file holds one")
    if request["key"] is not None:
        line = moved_to(line, key_for(line, parse_key(str(request["key"]))))
    return file_of(line, str(request["to"]))


VERBS: dict[str, Callable[[Request], dict[str, Any]]] = {
    "open": _open,
    "show": _show,
    "grade": _grade,
    "hear": _hear,
    "follow": _follow,
    "link": _link,
    "qr": _qr,
    "export": _export,
    "import": _import,
    "line file": _line_file,
}
# What the forms of pages ask, by the module in engine.view that answers; it is loaded when it is first wanted.
DESKS = {
    "line": "line_desk",
    "book": "book_desk",
    "own lines": "own_lines_desk",
    "entry": "entry_desk",
    "settings": "settings_desk",
    "band": "band_desk",
}


def open_pack(place: str) -> None:
    """Make what a pack holds importable, other packages and modules of the engine; ``place`` is the path of its zip."""
    if place not in sys.path:
        sys.path.append(place)
        sys.meta_path.append(_Pack(place))


class _Pack:
    """Has modules of the engine that are not found looked for in a pack too, in the folder of their package there."""

    def __init__(self, place: str) -> None:
        self._place = place

    def find_spec(
        self, name: str, path: Sequence[str] | None = None, target: ModuleType | None = None
    ) -> ModuleSpec | None:
        folder = f"{self._place}/{name.rpartition('.')[0].replace('.', '/')}"
        if not isinstance(path, list) or not name.startswith(OWN) or folder in path:
            return None
        path.append(folder)  # the package's own list of places
        found = (finder.find_spec(name, path, target) for finder in sys.meta_path)
        return next((spec for spec in found if spec), None)
