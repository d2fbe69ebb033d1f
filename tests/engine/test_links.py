"""Links: the options of a drill behind ``#``, and rounds as the page keeps them."""

from urllib.parse import unquote

import pytest
from asked import LEVELS
from by_hand import ROOTS
from hypothesis import given
from hypothesis import strategies as st

from engine.drills.catalogue import BY_SLUG
from engine.drills.options import LARGEST_SEED, LONGEST_LINK, MOST_QUESTIONS, OPTIONS, Options, read_link, write_link
from engine.practice.round import Plan
from engine.practice.rounds import first_plan, plan_as_json, plan_from_json
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
