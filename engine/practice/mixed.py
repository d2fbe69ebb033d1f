"""Mixed rounds: several drills that ask in turn, the one that a page brings along, and the one with ears."""

from __future__ import annotations

from engine.drills.catalogue import CATALOGUE, Entry
from engine.practice.round import Plan

# A page's first round has no question by ear: that wants sound, and more of the engine than a start loads.
MIXED, MIXED_BY_EAR = "mixed", "mixed-by-ear"


def is_mixed(plan: Plan) -> bool:
    """Whether several drills ask in turn."""
    return plan.drill in (MIXED, MIXED_BY_EAR)


def mixed_drills(drill: str) -> list[Entry]:
    """The drills that ask in turn in a mixed round, those by ear spread evenly among the others; else none.

    What is tapped on the player's own neck goes by settings that a mixed round does not have.
    """
    if drill not in (MIXED, MIXED_BY_EAR):
        return []
    read = [entry for entry in CATALOGUE if entry.mixed]
    heard = [entry for entry in CATALOGUE if entry.by_ear and not entry.neck and drill == MIXED_BY_EAR]
    placed = [((2 * place + 1) / len(row), entry) for row in (read, heard) for place, entry in enumerate(row)]
    return [entry for _, entry in sorted(placed, key=lambda one: one[0])]
