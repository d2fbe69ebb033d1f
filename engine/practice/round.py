"""A round: a short run of questions, and what its answers add up to.

A round is wholly told by its ``Plan``; its state is a fold over the answers
given, in the order they were given. Nothing else is kept.
"""

from __future__ import annotations

from dataclasses import dataclass

from engine.drills.question import Question
from engine.lines.line import Line


@dataclass(frozen=True, slots=True)
class Answer:
    """The choice taken for one question of a round: indexes from 0; ``ms`` the time it took, None if not known."""

    index: int
    choice: int
    ms: int | None = None


@dataclass(frozen=True, slots=True)
class Plan:
    """What a round asks: a drill (or "mixed"), the text of its options, a seed and which questions of that stream.

    ``options`` hold the line where it asks about one, so that an answer's
    record tells which. ``asked``: how many questions of the stream were asked
    up to and with this round, so that the next one goes on behind them;
    ``usual``: how many a whole round has. Both matter where only missed
    questions come again.
    ``words``: the sentence that came with the link, shown and nothing else.
    """

    drill: str
    options: str
    seed: int
    indexes: tuple[int, ...]
    asked: int = 0
    usual: int = 0
    words: str = ""

    @property
    def following(self) -> tuple[int, ...]:
        """The questions of the round after this one."""
        start = max(self.asked, *(index + 1 for index in self.indexes))
        return tuple(range(start, start + (self.usual or len(self.indexes))))


@dataclass(frozen=True, slots=True)
class Round:
    """A plan, its questions, and the answers so far: the first one given to a question counts.

    ``line``: the player's own line that it asks about, if it does.
    """

    plan: Plan
    questions: tuple[Question, ...]
    answers: tuple[Answer, ...] = ()
    line: Line | None = None

    @property
    def chosen(self) -> dict[int, Answer]:
        """The answer that counts, by the question's place in the round."""
        first: dict[int, Answer] = {}
        for answer in self.answers:
            if 0 <= answer.index < len(self.questions):
                first.setdefault(answer.index, answer)
        return first

    @property
    def missed(self) -> tuple[int, ...]:
        """Places of the questions that were answered wrongly."""
        return tuple(
            place
            for place, answer in sorted(self.chosen.items())
            if not _is_right(self.questions[place], answer.choice)
        )

    @property
    def done(self) -> bool:
        return len(self.chosen) == len(self.questions)


def _is_right(question: Question, choice: int) -> bool:
    return 0 <= choice < len(question.choices) and question.choices[choice].right
