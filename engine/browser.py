"""The few functions that the page may call: one request in, one answer out, both JSON text.

Stateless: a request carries the round's plan and the answers given so far, so
a worker that died is simply started again and asked the same.

A request says what to ``do``:

``{}``
    Nothing; the answer shows that the engine is there.
``open``: drill, link, count, seed
    The round that a page and the part of its link behind ``#`` ask for:
    ``plan``, ``html`` and ``notice`` (what of the link was ignored, or null).
``show``: plan, answers
    The round of a plan again, with its answers: ``plan`` and ``html``.
``grade``: plan, answers
    ``records``, one for each answered question, and ``patches``: HTML by the id of the element that it fills.
``link``: drill, fields (by option, the values as typed), chance (a number, the seed where one is wanted)
    ``link``, the part behind ``#``, and ``notice`` as above.
``qr``: text
    ``html``, the text as a QR code. The pack "segno" must be loaded.
``export``: records
    ``text``, a file of them.
``import``: text
    ``records`` of a file of records, and ``notice``, a sentence on what was left out, or null.
``follow``: plan, answers, how ("once more", "only missed", "wider", "narrower")
    The round that follows: ``plan`` and ``html``.

``answers`` is a list of ``{index, choice, ms}``, in the order given; indexes
count from 0 within the round. A bad request is answered with ``error``, one sentence.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from typing import Any

from engine.drills.options import write_link
from engine.practice.records import as_file, read_file, records_of
from engine.practice.round import Answer, Plan, Round
from engine.practice.rounds import (
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
from engine.view.qr import qr_html
from engine.view.round import progress_html, result_html, round_html

Request = Mapping[str, Any]

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
    except (KeyError, TypeError, ValueError) as fault:
        answer = {"error": f"The page asked for something that the engine does not know ({fault})."}
    return json.dumps(answer, ensure_ascii=False)


def _answer(request: Request) -> dict[str, Any]:
    what = VERBS.get(str(request["do"]))
    if what is None:
        raise BadInput(str(request["do"]), 1, "is nothing the engine does", f"ask for one of {', '.join(VERBS)}")
    return what(request)


def _open(request: Request) -> dict[str, Any]:
    plan, link = first_plan(
        str(request["drill"]), str(request.get("link", "")), int(request.get("count", 10)), int(request.get("seed", 1))
    )
    return {**_page(make_round(plan)), "notice": " ".join(link.ignored) or None}


def _show(request: Request) -> dict[str, Any]:
    return _page(_round(request))


def _grade(request: Request) -> dict[str, Any]:
    round_ = _round(request)
    patches = {"progress": progress_html(round_), "result": result_html(round_)}
    return {"records": records_of(round_), "patches": patches}


def _follow(request: Request) -> dict[str, Any]:
    how = FOLLOWING.get(str(request["how"]))
    if how is None:
        raise BadInput(str(request["how"]), 1, "is no way to go on", f"ask for one of {', '.join(FOLLOWING)}")
    return _page(make_round(how(_round(request))))


def _round(request: Request) -> Round:
    answers = tuple(
        Answer(int(answer["index"]), int(answer["choice"]), answer.get("ms")) for answer in request.get("answers", [])
    )
    return make_round(plan_from_json(request["plan"]), answers)


def _page(round_: Round) -> dict[str, Any]:
    return {"plan": plan_as_json(round_.plan), "html": round_html(round_)}


def _link(request: Request) -> dict[str, Any]:
    fields = {str(name): ",".join(map(str, values)) for name, values in dict(request["fields"]).items() if values}
    if "seed" in fields:
        fields["seed"] = str(int(request["chance"]))
    plan, link = first_plan(str(request["drill"]), "&".join(f"{name}={text}" for name, text in fields.items()))
    return {"link": write_link(link.options, link.set), "notice": " ".join(link.ignored) or None, "drill": plan.drill}


def _qr(request: Request) -> dict[str, Any]:
    return {"html": qr_html(str(request["text"]))}


def _export(request: Request) -> dict[str, Any]:
    return {"text": as_file(list(request["records"]))}


def _import(request: Request) -> dict[str, Any]:
    records, left_out = read_file(str(request["text"]))
    notice = render(say("{count} entries were no records and were left out.", count=left_out)) if left_out else None
    return {"records": records, "notice": notice}


VERBS: dict[str, Callable[[Request], dict[str, Any]]] = {
    "open": _open,
    "show": _show,
    "grade": _grade,
    "follow": _follow,
    "link": _link,
    "qr": _qr,
    "export": _export,
    "import": _import,
}
