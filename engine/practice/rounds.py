"""Making rounds: from a drill and a link, from the round before, from only the missed questions."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from functools import lru_cache
from typing import Any, Protocol

from engine.drills.catalogue import BY_SLUG, Stream
from engine.drills.options import ON_EITHER, ON_THE_NECK, Options
from engine.drills.question import Question
from engine.lines.line import Line
from engine.neck.instrument import Instrument, tuning_of
from engine.practice.drill_link import DrillLink, read_drill_link, read_words, write_drill_link
from engine.practice.mixed import MIXED, MIXED_BY_EAR, is_mixed, mixed_drills
from engine.practice.round import Answer, Plan, Round
from engine.theory.bad_input import BadInput, shown

VERSION = 1
LONGEST_ROUND = 50
# What a round keeps of the options, beside the line; how many and which questions stand in the plan itself.
MATERIAL = ("keys", "chords", "level", *ON_THE_NECK, *ON_EITHER)
# What is said of an option that goes with some drills only.
_ONLY_FOR = {
    **dict.fromkeys(ON_THE_NECK, "the drills on the neck"),
    **dict.fromkeys(ON_EITHER, "the drills that are answered on a keyboard or on the neck"),
}


class Played(Protocol):
    """Whatever tells the player's instrument."""

    @property
    def instrument(self) -> Instrument: ...


def first_plan(
    drill: str, link_text: str = "", count: int = 10, seed: int = 1, settings: Played | None = None
) -> tuple[Plan, DrillLink]:
    """The plan that a page and its link ask for, and the link as read.

    ``count`` and ``seed`` serve where the link has none, and for a drill on the neck the
    instrument of ``settings``. What a link asks for that the drill cannot do is left out
    and said in ``ignored``.
    """
    link = read_drill_link(link_text)
    options = link.options
    if settings and drill in BY_SLUG and BY_SLUG[drill].is_on_neck(options):
        options = _with_instrument(options, link.set, settings.instrument)
    if "count" not in link.set:
        options = replace(options, count=count)
    if "seed" not in link.set:
        options = replace(options, seed=seed)
    options, left_out = _askable(drill, options)
    if options.line and "count" not in link.set:
        # A line gives so many questions and no more; the same ones again would be no round.
        options = replace(options, count=min(options.count, len(Stream(drill, options).cards)))
    ignored = [*link.ignored, *left_out]
    if options.count > LONGEST_ROUND:
        ignored.append(f"A round has {LONGEST_ROUND} questions at most.")
        options = replace(options, count=LONGEST_ROUND)
    plan = Plan(
        drill, _material(options), options.seed, tuple(range(options.count)), options.count, options.count, link.words
    )
    named = tuple(name for name in link.set if _reads(drill, name, options))
    return plan, replace(link, options=options, set=named, ignored=tuple(ignored))


def _reads(drill: str, name: str, options: Options) -> bool:
    return BY_SLUG[drill].reads(name, options) if drill in BY_SLUG else name not in _ONLY_FOR


def _with_instrument(options: Options, named: tuple[str, ...], instrument: Instrument) -> Options:
    """The options for the player's own instrument, as far as the link that ``named`` some of them has no other."""
    if "tuning" in named:
        return options
    there = replace(options, tuning=tuning_of(instrument))
    if "frets" in named or there.instrument.frets == instrument.frets:
        return there
    return replace(there, frets=instrument.frets)


@lru_cache(maxsize=64)
def asks_about(drill: str, line: Line) -> bool:
    """Whether a drill finds something in a line to ask about."""
    try:
        return bool(Stream(drill, Options(line=line)).cards)
    except BadInput:
        return False


def _askable(drill: str, options: Options) -> tuple[Options, list[str]]:
    """The options without what the drill cannot ask, and a sentence for each part that was left out."""
    left_out = []
    if options.line and not (drill in BY_SLUG and BY_SLUG[drill].takes_line):
        left_out.append(f"Only the drills about lines take one, so {_title(options.line)} was left out.")
        options = replace(options, line=None)
    usual = Options()
    for name, those in _ONLY_FOR.items():
        if not _reads(drill, name, options) and getattr(options, name) != getattr(usual, name):
            left_out.append(f'"{name}" is for {those} and was left out.')
            options = replace(options, **{name: getattr(usual, name)})
    while True:
        try:
            _streams(drill, options)
            return replace(options, level=min(_last_level(options), options.level)), left_out
        except BadInput as bad:
            if bad.token in options.chords:
                left_out.append(f'"{bad.token}" {bad.problem} and was left out: {bad.instead}.')
                options = replace(options, chords=tuple(kind for kind in options.chords if kind != bad.token))
            elif options.at is not None:
                left_out.append(f'"at={options.at}" was left out: this drill finds nothing to ask there.')
                options = replace(options, at=None)
            elif options.line:
                title = _title(options.line)
                left_out.append(f"This drill finds nothing to ask in {title}; these are its usual questions.")
                options = replace(options, line=None)
            elif options.instrument != usual.instrument:
                left_out.append("This drill finds nothing to ask on that instrument; it asks about the guitar.")
                options = replace(options, tuning=usual.tuning, frets=usual.frets)
            else:
                raise


def _title(line: Line) -> str:
    return f'"{shown(line.title)}"' if line.title else "the line"


def make_round(plan: Plan, answers: tuple[Answer, ...] = ()) -> Round:
    """The round of a plan; BadInput where its drill or chords are not known."""
    options = replace(read_drill_link(plan.options).options, seed=plan.seed)
    streams = _streams(plan.drill, options)
    questions = tuple(_question(streams, index) for index in plan.indexes)
    return Round(plan, questions, answers, options.line)


def plan_round(drill: str, options_text: str = "", seed: int = 1, count: int = 10) -> Round:
    """The first round of a page."""
    plan, _ = first_plan(drill, options_text, count, seed)
    return make_round(plan)


def once_more(round_: Round) -> Plan:
    """As many new questions of the same kind, going on where the rounds so far ended."""
    plan = round_.plan
    indexes = plan.following
    return replace(plan, indexes=indexes, asked=indexes[-1] + 1, usual=len(indexes))


def only_missed(round_: Round) -> Plan:
    """The questions that were missed, again; all of them where none was."""
    plan = round_.plan
    missed = tuple(plan.indexes[place] for place in round_.missed)
    following = plan.following
    return replace(plan, indexes=missed or plan.indexes, asked=following[0], usual=len(following))


# What the levels add, in their order: the ways on from a round, and back.
LAST_LEVEL = 3
LAST_LEVEL_OF_A_LINE = 2  # a line brings its own chords along


def as_wanted(plan: Plan, before: Round, quiet: bool) -> Plan:
    """The plan of a round that follows another one: a mixed one has questions by ear, unless the player is ``quiet``.

    Where that changes, the seed does too, so that no question comes twice. The same questions once more, the missed
    ones for example, stay what they are, without those by ear for who has become quiet.
    """
    if not is_mixed(plan):
        return plan
    if set(plan.indexes) & set(before.plan.indexes):
        silent = [index for index, asked in zip(before.plan.indexes, before.questions, strict=True) if not asked.heard]
        kept = tuple(index for index in plan.indexes if index in silent or not quiet)
        if kept:
            return replace(plan, indexes=kept)
        plan = once_more(before)
    drill = MIXED if quiet else MIXED_BY_EAR
    return plan if plan.drill == drill else replace(plan, drill=drill, seed=plan.seed + 1)


def wider(round_: Round) -> Plan:
    """The same in all twelve keys; where it is that already, with altered chords too, unless it is about a line."""
    options = _options(round_)
    level = max(2, options.level if options.keys else options.level + 1)
    return _with_options(round_, replace(options, keys=(), level=min(_last_level(options), level)))


def narrower(round_: Round) -> Plan:
    """A level back: without the altered chords, then in three common keys, of a line in its own."""
    options = _options(round_)
    return _with_options(round_, replace(options, keys=(), level=max(1, options.level - 1)))


def level_of(round_: Round) -> int | None:
    """The level of a round, None where its keys were chosen one by one."""
    options = _options(round_)
    return None if options.keys else options.level


def _options(round_: Round) -> Options:
    return read_drill_link(round_.plan.options).options


def _with_options(round_: Round, options: Options) -> Plan:
    return replace(once_more(round_), options=_material(options))


def _last_level(options: Options) -> int:
    return LAST_LEVEL_OF_A_LINE if options.line else LAST_LEVEL


def _material(options: Options) -> str:
    """What a round keeps of its options, where that is not the usual, as in a link."""
    named = [name for name in MATERIAL if getattr(options, name) != getattr(Options(), name)]
    return write_drill_link(options, named)


def _streams(drill: str, options: Options) -> tuple[Stream, ...]:
    mixed = mixed_drills(drill)
    if mixed:
        plain = replace(options, chords=())
        return tuple(Stream(entry.slug, plain) for entry in mixed)
    return (Stream(drill, options),)


def _question(streams: tuple[Stream, ...], index: int) -> Question:
    number, which = divmod(index, len(streams))
    return streams[which][number]


def plan_as_json(plan: Plan) -> dict[str, Any]:
    """A plan as the page keeps it."""
    # The mixed round's questions change with every drill that is added or changed.
    rev = BY_SLUG[plan.drill].rev if plan.drill in BY_SLUG else sum(one.rev for one in mixed_drills(plan.drill))
    return {
        "v": VERSION,
        "drill": plan.drill,
        "rev": rev,
        "options": plan.options,
        "seed": plan.seed,
        "indexes": list(plan.indexes),
        "asked": plan.asked,
        "usual": plan.usual,
        "words": plan.words,
    }


def plan_from_json(found: Mapping[str, Any]) -> Plan:
    """The inverse of ``plan_as_json``; BadInput where a part is missing or of the wrong kind."""
    try:
        indexes = tuple(int(index) for index in found["indexes"])[:LONGEST_ROUND]
        asked, usual = int(found.get("asked", 0)), min(int(found.get("usual", 0)), LONGEST_ROUND)
        words = read_words(str(found.get("words", "")))
        plan = Plan(str(found["drill"]), str(found["options"]), int(found["seed"]), indexes, asked, usual, words)
    except (KeyError, TypeError, ValueError, OverflowError) as fault:
        raise BadInput(str(fault), 1, "is wrong in this round", "open the drill's page again") from fault
    if not plan.indexes or min(*plan.indexes, plan.asked, plan.usual) < 0:
        raise BadInput("indexes", 1, "names no question", "open the drill's page again")
    return plan
