"""Answer records: what is kept of every answer, once and for good."""

from __future__ import annotations

from typing import Any

from engine.drills.catalogue import BY_SLUG
from engine.drills.question import plain
from engine.practice.round import Round

VERSION = 1


def records_of(round_: Round) -> list[dict[str, Any]]:
    """A record for each answered question of a round, in the order of the questions.

    ``skill`` says what was asked and ``mistake`` what was done instead (null
    where ``right``); ``ms`` is the time it took, null where it is not known.
    Drill, ``rev``, options, seed and index tell which question it was.
    """
    records = []
    for place, answer in sorted(round_.chosen.items()):
        question = round_.questions[place]
        if not 0 <= answer.choice < len(question.choices):
            continue
        choice = question.choices[answer.choice]
        records.append(
            {
                "v": VERSION,
                "drill": question.drill,
                "rev": BY_SLUG[question.drill].rev,
                "options": round_.plan.options,
                "seed": round_.plan.seed,
                "index": round_.plan.indexes[place],
                "skill": question.skill,
                "value": plain(choice.value),
                "right": choice.right,
                "mistake": choice.mistake,
                "ms": answer.ms,
            }
        )
    return records
