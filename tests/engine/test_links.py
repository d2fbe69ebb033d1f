"""Links: the options of a drill behind ``#``, and rounds as the page keeps them."""

import json
from dataclasses import dataclass, replace
from urllib.parse import quote, unquote

import pytest
from asked import LEVELS
from by_hand import ROOTS
from hypothesis import given
from hypothesis import strategies as st

from engine import browser
from engine.drills.catalogue import BY_SLUG, CATALOGUE
from engine.drills.options import LARGEST_SEED, LONGEST_LINK, MOST_QUESTIONS, OPTIONS, Options, read_link, write_link
from engine.formats.abc import read_abc
from engine.lines.stock import stock
from engine.neck.instrument import FRETS, INSTRUMENTS, Instrument, instrument_of
from engine.practice.drill_link import LONGEST, LONGEST_WORDS, read_drill_link, write_drill_link
from engine.practice.line_in_link import to_link
from engine.practice.records import question_facts, records_of
from engine.practice.round import Answer, Plan, Round
from engine.practice.rounds import (
    MIXED,
    first_plan,
    level_of,
    make_round,
    narrower,
    once_more,
    only_missed,
    plan_as_json,
    plan_from_json,
    plan_round,
    wider,
)
from engine.theory.bad_input import BadInput
from engine.theory.chord import KINDS
from engine.theory.pitch import parse_pitch

ANY_OPTIONS = st.builds(
    Options,
    keys=st.lists(st.sampled_from(ROOTS), unique=True).map(lambda names: tuple(parse_pitch(name) for name in names)),
    chords=st.lists(st.sampled_from(list(KINDS)), unique=True).map(tuple),
    level=st.sampled_from(LEVELS),
    count=st.integers(1, MOST_QUESTIONS),
    seed=st.integers(0, LARGEST_SEED),
    tuning=st.sampled_from([*INSTRUMENTS, "C2,G2,D3,A3", "F#1,B1,E2,A2,C#3"]),
    frets=st.none() | st.sampled_from(FRETS),
    at=st.none() | st.integers(0, FRETS[-1]),
)


@given(ANY_OPTIONS)
def test_a_link_gives_its_options_back(options: Options) -> None:
    link = write_link(options)
    assert read_link(link).options == options
    assert read_link("#" + link).options == options
    assert read_link(link).ignored == ()
    usual = Options()
    changed = [option.name for option in OPTIONS if getattr(options, option.name) != getattr(usual, option.name)]
    assert list(read_link(link).set) == changed


@given(ANY_OPTIONS)
def test_a_link_survives_mail_and_chat(options: Options) -> None:
    link = write_link(options)
    assert link.isascii()
    assert not set(link) - set("abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789=&,%-._~/")
    assert "#" not in link
    assert link.startswith("v=1")


@pytest.mark.parametrize(
    ("link", "options"),
    [
        ("", Options()),
        ("#", Options()),
        ("#v=1", Options()),
        ("#v=1&level=2", Options(level=2)),
        ("v=1&keys=C,F%23", Options(keys=(parse_pitch("C"), parse_pitch("F#")))),
        ("keys=C,F#", Options(keys=(parse_pitch("C"), parse_pitch("F#")))),
        ("keys=B♭", Options(keys=(parse_pitch("Bb"),))),
        ("chords=7,m7,%C3%B8", Options(chords=("7", "m7", "m7b5"))),
        ("count=5&seed=7", Options(count=5, seed=7)),
        ("level=2&level=3", Options(level=3)),
        ("tuning=bass&at=0", Options(tuning="bass", at=0)),
        ("tuning=guitar-in-drop-D&frets=24", Options(tuning="guitar in drop D", frets=24)),
        ("tuning=seven-string%20guitar", Options(tuning="seven-string guitar")),
        ("tuning=E2,A2,D3,G3,B3,E4", Options()),
        ("tuning=B♭1,F2,C3,G3", Options(tuning="Bb1,F2,C3,G3")),
    ],
)
def test_links_as_a_teacher_may_write_them(link: str, options: Options) -> None:
    found = read_link(link)
    assert (found.options, found.ignored) == (options, ())


@pytest.mark.parametrize(
    ("link", "kept", "said"),
    [
        ("keys=C,H,F", Options(keys=(parse_pitch("C"), parse_pitch("F"))), ['"H" is no root']),
        ("keys=H", Options(), ['"H" is no root']),
        ("keys=C4", Options(), ['"C4" is no root']),
        ("keys=Ebb", Options(), ['"Ebb" is no root']),
        ("keys=", Options(), ['"keys=" is empty']),
        ("chords=7,foo", Options(chords=("7",)), ['"foo" is no kind of chord']),
        ("level=4&count=5", Options(count=5), ['"4" is no level']),
        ("level=-1", Options(), ['"-1" is no level']),
        ("level=two", Options(), ['"two" is no level']),
        ("level=１", Options(), ['"１" is no level']),
        ("count=0", Options(), ['"0" is no count']),
        ("count=99999999999999999999", Options(), ['"99999999999999999999" is no count']),
        ("seed=1.5", Options(), ['"1.5" is no seed']),
        ("tuning=ukulele", Options(), ['"ukulele" is no note for a string']),
        ("tuning=E2,A2&at=5", Options(at=5), ['"E2,A2" has 2 strings']),
        ("frets=11", Options(), ['"11" is no number of frets']),
        ("at=28", Options(), ['"28" is no fret to begin at']),
        ("on=piano", Options(), ['"piano" is nothing to answer on']),
        ("tempo=120&level=2", Options(level=2), ['"tempo=120" is no option of a drill']),
        ("level", Options(), ['"level" is empty']),
        ("<script>", Options(), ['"<script>" is no option of a drill']),
        ("level=4&seed=x", Options(), ['"4" is no level', '"x" is no seed']),
        ("x" * (LONGEST_LINK + 1), Options(), ["The link is longer than"]),
    ],
)
def test_what_cannot_be_read_is_left_out_and_said(link: str, kept: Options, said: list[str]) -> None:
    found = read_link(link)
    assert found.options == kept
    assert len(found.ignored) == len(said)
    for sentence, part in zip(found.ignored, said, strict=True):
        assert part in sentence
        assert "left out" in sentence


def _one_line_each(sentences: tuple[str, ...]) -> None:
    for sentence in sentences:
        assert sentence.isprintable()
        assert sentence.endswith(".")
        assert len(sentence) < 250


@dataclass(frozen=True)
class Kept:
    """Settings as far as a round reads them."""

    instrument: Instrument


NECK = [entry.slug for entry in CATALOGUE if entry.neck]
# What a link says where a drill is answered on the neck only if it is asked to.
ON = {entry.slug: "on=neck" for entry in CATALOGUE if entry.keyboard}


def on_neck(slug: str, link: str = "") -> str:
    """A link to a drill on the neck."""
    return "&".join(part for part in (link, ON.get(slug, "")) if part)


@pytest.mark.parametrize("slug", [*(entry.slug for entry in CATALOGUE if not entry.neck), MIXED])
def test_only_the_drills_on_the_neck_have_an_instrument(slug: str) -> None:
    plan, link = first_plan(slug, "tuning=bass&frets=24&at=3&level=2", settings=Kept(INSTRUMENTS["bass"]))
    assert plan.options == "v=1&level=2"
    assert link.set == ("level",)
    names = ("tuning", "frets", "at")
    assert link.ignored == tuple(f'"{name}" is for the drills on the neck and was left out.' for name in names)
    assert first_plan(slug, settings=Kept(INSTRUMENTS["bass"])) == first_plan(slug)


@pytest.mark.parametrize("slug", NECK)
def test_a_round_on_the_neck_keeps_its_instrument_and_its_frets(slug: str) -> None:
    plan, link = first_plan(slug, on_neck(slug, "tuning=guitar-in-drop-D&frets=24&at=4&level=2"), count=3)
    assert link.ignored == ()
    assert plan.options == on_neck(slug, "v=1&level=2&tuning=guitar-in-drop-D&frets=24&at=4")
    round_ = make_round(plan_from_json(plan_as_json(plan)))
    for following in (once_more(round_), only_missed(round_), wider(round_), narrower(round_)):
        assert "&tuning=guitar-in-drop-D&frets=24&at=4" in following.options
    assert {str(question.about["tuning"]) for question in round_.questions} == {"D2,A2,D3,G3,B3,E4"}


@pytest.mark.parametrize("slug", NECK)
def test_the_players_own_instrument_is_asked_about_where_the_link_has_none(slug: str) -> None:
    own = Kept(INSTRUMENTS["five-string bass"])

    def options(link: str, settings: Kept) -> str:
        return first_plan(slug, on_neck(slug, link), settings=settings)[0].options

    assert options("", own) == on_neck(slug, "v=1&tuning=five-string-bass")
    assert options("tuning=bass", own) == on_neck(slug, "v=1&tuning=bass")
    assert options("frets=20", own) == on_neck(slug, "v=1&tuning=five-string-bass&frets=20")
    assert options("", Kept(instrument_of("guitar", 24))) == on_neck(slug, "v=1&frets=24")
    guitar = Kept(INSTRUMENTS["guitar"])
    assert first_plan(slug, on_neck(slug), settings=guitar) == first_plan(slug, on_neck(slug))
    plan, _ = first_plan(slug, on_neck(slug), settings=Kept(instrument_of("E1,B1,F#2,C#3")))
    assert plan.options == on_neck(slug, "v=1&tuning=E1,B1,F%232,C%233")
    make_round(plan)


@pytest.mark.parametrize("slug", ON)
def test_what_is_tapped_on_a_keyboard_has_no_instrument(slug: str) -> None:
    own = Kept(INSTRUMENTS["bass"])
    assert first_plan(slug, "level=2", settings=own)[0].options == "v=1&level=2"
    plan, link = first_plan(slug, "tuning=bass&at=3&on=keyboard", settings=own)
    assert (plan.options, link.set) == ("v=1", ("on",))
    names = ("tuning", "at")
    assert link.ignored == tuple(f'"{name}" is for the drills on the neck and was left out.' for name in names)


@pytest.mark.parametrize("slug", [*(entry.slug for entry in CATALOGUE if not entry.keyboard), MIXED])
def test_only_some_drills_are_answered_on_a_keyboard_or_on_the_neck(slug: str) -> None:
    plan, link = first_plan(slug, "on=neck&level=2")
    assert (plan.options, link.set) == ("v=1&level=2", ("level",))
    said = '"on" is for the drills that are answered on a keyboard or on the neck and was left out.'
    assert link.ignored == (said,)


@pytest.mark.parametrize("slug", NECK)
def test_frets_and_instruments_with_nothing_to_ask_are_left_out_and_said(slug: str) -> None:
    plan, link = first_plan(slug, on_neck(slug, "at=20&level=2"))
    assert (plan.options, link.ignored) == (
        on_neck(slug, "v=1&level=2"), ('"at=20" was left out: this drill finds nothing to ask there.',)
    )  # fmt: skip
    if slug == "arpeggio-in-place":
        # An octave and a half apart, no five frets of these hold an arpeggio.
        plan, link = first_plan(slug, "tuning=C0,F%231,C3,F%234")
        assert link.ignored == ("This drill finds nothing to ask on that instrument; it asks about the guitar.",)
        assert plan.options == "v=1"


LINE = replace(read_abc('T:Porch light\nK:C\n"Dm7"FAcedcBA|"G7"Bdfagf^F^D|"Cmaj7"E8|]')[0], number=1)
ABOUT_LINES = [entry.slug for entry in CATALOGUE if entry.takes_line]
OTHERS = [*(entry.slug for entry in CATALOGUE if not entry.takes_line), MIXED]
SAID = "Sing <b>each</b> degree, 50 % slower & aloud: F#, “A”… 3/4."
HELD_NOTE = replace(read_abc('T:Held\nK:C\n"C7"c8|]')[0], number=1)

HOSTILE = st.one_of(
    st.text(max_size=300),
    st.lists(
        st.sampled_from(
            [*"#&=,%+\n\0", "keys", "chords", "level", "count", "seed", "%00", "%ff", "C", "♭", "7", "-1", "\u202e"]
        ),
        max_size=40,
    ).map("".join),
)  # fmt: skip


@given(HOSTILE)
def test_no_link_breaks_the_page(link: str) -> None:
    found = read_link(link)
    _one_line_each(found.ignored)
    assert read_link(write_link(found.options)).options == found.options
    plan, again = first_plan("name-the-degree", link)
    _one_line_each(again.ignored)
    assert plan.indexes


@given(ANY_OPTIONS, st.integers(0, 200))
def test_a_link_that_was_cut_off_still_opens(options: Options, length: int) -> None:
    cut = write_link(options)[:length]
    found = read_link(cut)
    _one_line_each(found.ignored)
    assert set(found.options.keys) <= {*options.keys, *(key.in_octave(None) for key in map(parse_pitch, "CDEFGAB"))}


def test_the_longest_link_that_is_read() -> None:
    link = "level=2&" + "&" * (LONGEST_LINK - len("level=2&"))
    assert read_link(link).options.level == 2


@pytest.mark.parametrize("slug", list(BY_SLUG))
def test_what_a_drill_cannot_do_is_left_out_and_said(slug: str) -> None:
    plan, link = first_plan(slug, "chords=7,sus2&level=2&count=3")
    assert link.options.chords == ("7",)
    assert len(plan.indexes) == 3
    assert len(link.ignored) == 1
    assert f'"sus2" is not asked by {slug}' in link.ignored[0]
    _one_line_each(link.ignored)


PLANS = st.builds(
    Plan,
    drill=st.sampled_from([*BY_SLUG, "mixed"]),
    options=ANY_OPTIONS.map(write_link),
    seed=st.integers(0, LARGEST_SEED),
    indexes=st.lists(st.integers(0, 10_000), min_size=1, max_size=50).map(tuple),
    words=st.sampled_from(["", "Slowly, please."]),
)


@given(PLANS)
def test_a_plan_is_kept_and_found_again(plan: Plan) -> None:
    assert plan_from_json(plan_as_json(plan)) == plan


JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=20),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=8), inner, max_size=4),
    max_leaves=12,
)


@given(PLANS.map(plan_as_json), st.sampled_from(["drill", "options", "seed", "indexes"]), JSON)
def test_a_plan_with_a_broken_part_is_read_or_refused_in_one_sentence(
    kept: dict[str, object], part: str, broken: object
) -> None:
    try:
        plan = plan_from_json({**kept, part: broken})
    except BadInput as bad:
        _one_line_each((str(bad),))
    else:
        assert 1 <= len(plan.indexes) <= 50
        assert min(plan.indexes) >= 0


@given(PLANS.map(plan_as_json), st.sampled_from(["drill", "options", "seed", "indexes"]))
def test_a_plan_that_lacks_a_part_is_refused(kept: dict[str, object], part: str) -> None:
    del kept[part]
    with pytest.raises(BadInput, match="is wrong in this round"):
        plan_from_json(kept)


@pytest.mark.parametrize("seed", [float("inf"), float("nan"), "x", None, []])
def test_a_seed_that_is_no_number_is_refused(seed: object) -> None:
    with pytest.raises(BadInput, match="is wrong in this round"):
        plan_from_json({"drill": "mixed", "options": "", "seed": seed, "indexes": [0]})


def test_a_link_is_written_with_percent_signs_only_where_they_are_needed() -> None:
    options = Options(keys=(parse_pitch("F#"), parse_pitch("Bb")), chords=("m7b5", "7#9"), level=3)
    assert write_link(options) == "v=1&keys=F%23,Bb&chords=m7b5,7%239&level=3"
    assert unquote(write_link(options)) == "v=1&keys=F#,Bb&chords=m7b5,7#9&level=3"


@given(ANY_OPTIONS, st.sampled_from([None, *stock()]), st.text(max_size=LONGEST_WORDS).map(lambda text: f"({text}"))
def test_a_link_gives_line_and_words_back(options: Options, line: object, words: str) -> None:
    first = read_drill_link(f"words={quote(words, errors='ignore')}")
    assert first.words or "are the most" in first.ignored[0]
    whole = replace(options, line=line and replace(line, number=1))
    link = write_drill_link(whole, words=first.words)
    assert not set(link) - set("abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789=&,%-_/")
    found = read_drill_link(f"#{link}")
    assert (found.options, found.words, found.ignored) == (whole, first.words, ())
    assert read_drill_link(write_drill_link(found.options, found.set, found.words)) == found


@pytest.mark.parametrize(
    ("words", "kept"),
    [
        ("Slowly%2C%20please%2E", "Slowly, please."),
        ("<script>alert(1)</script>", "<script>alert(1)</script>"),
        ("a%00b%0A%20%20c%E2%80%AE", "ab c"),
        ("%ED%A0%80x", "\ufffd\ufffd\ufffdx"),
        ("{note}", "{note}"),
        ("W" * LONGEST_WORDS, "W" * LONGEST_WORDS),
        ("%20", ""),
        ("", ""),
    ],
)
def test_words_are_one_line_that_can_be_printed(words: str, kept: str) -> None:
    found = read_drill_link(f"words={words}&level=2")
    assert (found.words, found.options, found.ignored) == (kept, Options(level=2), ())


@pytest.mark.parametrize(
    ("link", "said"),
    [
        ("line=", 'The line was left out, because "" is where the line breaks off: copy the whole link again.'),
        ("words=" + "W" * (LONGEST_WORDS + 1), f'…" has {LONGEST_WORDS + 1} signs: {LONGEST_WORDS} are the most.'),
        (f"line={to_link(LINE)[:-3]}", "The line was left out, because"),
        ("line=%3Cscript%3E", "The line was left out, because"),
        ("line=K:C%0A%22C7%22[ceg]8|]", 'because "[ceg]8" sounds several notes at once: write one note at a time'),
        ("level=3&" * 600, f"The link is longer than {LONGEST:,} signs; it was left out."),
        ("level=2&" + "&" * LONGEST_LINK, f"The link is longer than {LONGEST_LINK} signs; it was left out."),
    ],
)
def test_a_line_or_words_that_cannot_be_read_are_left_out_and_said(link: str, said: str) -> None:
    found = read_drill_link(link)
    assert (found.options, found.words) == (Options(), "")
    assert len(found.ignored) == 1
    assert said in found.ignored[0]
    _one_line_each(found.ignored)


@pytest.mark.parametrize("slug", ABOUT_LINES)
def test_a_link_asks_about_its_line(slug: str) -> None:
    plan, link = first_plan(slug, f"line={to_link(LINE)}&count=8")
    assert link.ignored == ()
    round_ = make_round(plan_from_json(plan_as_json(plan)))
    assert round_.line == LINE
    own = {"D", "G", "C"} if slug != "move-the-line" else {"G", "C", "F"}
    assert {str(question.about["chord"].root) for question in round_.questions} <= own
    wide = make_round(first_plan(slug, f"line={to_link(LINE)}&level=2&count=50")[0])
    assert len({str(question.about["chord"].root) for question in wide.questions}) > 8
    # What is learned is the same, whoever wrote the line.
    assert {question.skill.split("/")[0] for question in wide.questions} == {slug}
    assert LINE.title not in " ".join(question.skill for question in wide.questions)


@pytest.mark.parametrize("slug", ABOUT_LINES)
@pytest.mark.parametrize("link", ["keys=Bb", "level=3", "chords=7&level=2"])
def test_keys_and_kinds_choose_within_the_line(slug: str, link: str) -> None:
    plan, read = first_plan(slug, f"{link}&line={to_link(LINE)}&count=20")
    assert read.ignored == ()
    round_ = make_round(plan)
    assert round_.line == LINE
    chords = [question.given["chord"] for question in round_.questions]
    if link == "keys=Bb":
        assert {str(chord.root) for chord in chords} <= {"Bb", "Eb", "F"}
    if "chords" in link:
        assert {chord.kind for chord in chords} <= {"7", "maj7"}
    assert level_of(round_) in (None, 2)


@pytest.mark.parametrize("slug", OTHERS)
def test_a_drill_that_takes_no_line_says_so(slug: str) -> None:
    plan, link = first_plan(slug, f"line={to_link(LINE)}&words=Slowly", count=3)
    assert link.ignored == ('Only the drills about lines take one, so "Porch light" was left out.',)
    assert (plan.options, plan.words) == ("v=1", "Slowly")
    assert make_round(plan) == replace(plan_round(slug, count=3), plan=plan)


@pytest.mark.parametrize("slug", ABOUT_LINES)
def test_a_line_with_nothing_to_ask_gives_the_usual_questions_and_says_so(slug: str) -> None:
    plan, link = first_plan(slug, f"line={to_link(HELD_NOTE)}&level=2", count=3)
    assert link.ignored == ('This drill finds nothing to ask in "Held"; these are its usual questions.',)
    assert make_round(plan) == plan_round(slug, "level=2", count=3)
    untitled = to_link(replace(HELD_NOTE, title=""))
    assert "nothing to ask in the line;" in first_plan(slug, f"line={untitled}")[1].ignored[0]
    # A title that reads like a kind of chord is still a title.
    seven = to_link(replace(HELD_NOTE, title="7"))
    assert make_round(first_plan(slug, f"line={seven}&chords=7")[0]).line is None


def test_a_round_about_a_line_goes_on_about_it() -> None:
    link = f"line={to_link(LINE)}&words={quote(SAID)}&count=4"
    first = make_round(first_plan("spot-the-device", link, seed=5)[0])
    answers = tuple(Answer(place, (one.right + 1) % len(one.choices)) for place, one in enumerate(first.questions[:2]))
    played = Round(first.plan, first.questions, answers, first.line)
    for following in (once_more(played), only_missed(played), wider(played), narrower(played)):
        again = make_round(plan_from_json(plan_as_json(following)))
        assert (again.line, again.plan.words) == (LINE, SAID)
    assert level_of(make_round(wider(played))) == 2
    assert level_of(make_round(wider(make_round(wider(played))))) == 2  # a line has no altered chords to add
    assert level_of(make_round(narrower(make_round(wider(played))))) == 1


def test_a_record_tells_which_line_and_not_what_was_said() -> None:
    plan, _ = first_plan("finish-the-line", f"line={to_link(LINE)}&words={quote(SAID)}&count=2")
    round_ = make_round(plan, (Answer(0, 1, 900),))
    (record,) = records_of(round_)
    assert record["options"] == question_facts(plan, 0, round_.questions[0])["options"] == f"v=1&line={to_link(LINE)}"
    assert read_drill_link(record["options"]).options.line == LINE


def _asked(request: dict[str, object]) -> dict[str, str]:
    return dict(json.loads(browser.call(json.dumps(request))))


def test_the_form_keeps_the_line_and_says_which() -> None:
    plan = plan_as_json(first_plan("move-the-line", f"line={to_link(LINE)}&count=2")[0])
    fields = {"keys": ["F#"], "level": ["3"], "count": ["5"], "words": [SAID], "seed": ["1"]}
    request = {"do": "link", "drill": "move-the-line", "fields": fields, "chance": 7, "plan": plan}
    reply = _asked(request)
    assert reply["line"].startswith("It asks about “Porch light”. Level 1 ")
    assert reply["notice"] is None
    found = read_drill_link(reply["link"])
    assert found.options == Options(keys=(parse_pitch("F#"),), level=2, count=5, seed=7, line=LINE)
    assert found.words == SAID
    without = _asked({**request, "plan": plan_as_json(first_plan("move-the-line")[0])})
    assert without["line"] == ""
    assert "line=" not in without["link"]
    untitled = first_plan("move-the-line", f"line={to_link(replace(LINE, title=''))}")[0]
    assert "the line that this page" in _asked({**request, "plan": plan_as_json(untitled)})["line"]
    long = _asked({**request, "fields": {"words": ["W" * 201], "level": ["1"], "keys": []}})
    assert (read_drill_link(long["link"]).words, "200 are the most" in long["notice"]) == ("", True)
