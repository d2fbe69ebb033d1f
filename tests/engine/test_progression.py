"""Progressions: the table in every key, chords as they are typed, the orders of keys."""

from fractions import Fraction
from itertools import pairwise

import pytest

from engine.lines.line import Meter
from engine.lines.moving import keys_of
from engine.lines.progression import (
    KEY_ORDERS,
    LONGEST,
    PROGRESSIONS,
    BadProgression,
    in_key,
    in_order,
    parse_progression,
)
from engine.theory.bad_input import BadInput
from engine.theory.key import parse_key


def told(text: str, meter: Meter | None = None) -> str:
    """A typed progression as chords with the beats on which they come."""
    progression = parse_progression(text, meter=meter)
    return " ".join(f"{change.chord.symbol}@{change.beat}" for change in progression.changes)


@pytest.mark.parametrize(
    ("text", "chords", "bars"),
    [
        ("Dm7 G7 | Cmaj7 |", "Dm7@0 G7@2 Cmaj7@4", 2),
        ("Dm7 G7 Cmaj7", "Dm7@0 G7@4 Cmaj7@8", 3),
        ("| Dm7 | G7 || Cmaj7 |", "Dm7@0 G7@4 Cmaj7@8", 3),
        ("|: Dm7 | G7 :|", "Dm7@0 G7@4", 2),
        ("C | % | F G", "C@0 F@8 G@10", 3),
        ("C F G | C", "C@0 F@2 G@3 C@4", 2),
        ("C F G A B | C", "C@0 F@2 G@5/2 A@3 B@7/2 C@4", 2),
        ("B♭7 | E♭△7/G", "Bb7@0 Eb△7/G@4", 2),
    ],
)
def test_chords_are_read_as_players_type_them(text: str, chords: str, bars: int) -> None:
    progression = parse_progression(text)
    assert (told(text), progression.bars, progression.length) == (chords, bars, 4 * bars)


def test_three_four_and_six_eight() -> None:
    assert told("Dm7 G7 | C", Meter(3, 4)) == "Dm7@0 G7@2 C@3"
    assert told("Dm7 G7 | C", Meter(6, 8)) == "Dm7@0 G7@3/2 C@3"


@pytest.mark.parametrize(
    ("text", "bar", "token", "column"),
    [("Dm7 H7 | C", 1, "H7", 5), ("Dm7 G7 | Cmaj7 | Xm", 3, "Xm", 18), ("Dm7 G7 c", 3, "c", 8), ("%", 1, "%", 1)],
)
def test_a_bad_chord_is_told_with_its_bar(text: str, bar: int, token: str, column: int) -> None:
    with pytest.raises(BadProgression) as refused:
        parse_progression(text)
    bad = refused.value
    assert (bad.bar, bad.token, bad.column) == (bar, token, column)
    assert str(bad).startswith(f'column {column}: "{token}" in bar {bar} ')


@pytest.mark.parametrize(
    ("text", "problem"),
    [("", "has no chord"), (" | | ", "has no chord"), ("C " * (LONGEST + 1), f"has {LONGEST + 1} bars"),
     ("C D " * 5 + "|", "is chord 10 of bar 1")],
)  # fmt: skip
def test_nothing_and_too_much(text: str, problem: str) -> None:
    with pytest.raises(BadInput, match=problem):
        parse_progression(text)


@pytest.mark.parametrize(
    ("text", "key"),
    [
        ("Dm7 G7 | Cmaj7", "C"), ("Fm7 | Bb7 | Ebmaj7", "Eb"), ("Am7b5 D7b9 | Gm6", "Gm"),
        ("Cmaj7 | A7 | Dm7 | G7", "C"),
        ("C7 | F7 | C7 | G7", "C"), ("Dm7", "Dm"), ("F#m7b5 B7 | Em", "Em"), ("C#m7 | F#7 | Bmaj7", "B"),
    ],
)  # fmt: skip
def test_the_key_is_where_a_dominant_falls_to(text: str, key: str) -> None:
    assert str(parse_progression(text).key) == key


def test_a_key_that_is_given_is_kept() -> None:
    assert str(parse_progression("Dm7 G7", parse_key("F")).key) == "F"


@pytest.mark.parametrize("name", PROGRESSIONS)
def test_every_progression_is_spelled_right_in_every_key(name: str) -> None:
    own = PROGRESSIONS[name]
    assert own.changes[0].beat == 0
    assert own.length == own.bars * own.meter.bar
    assert all(a.beat < b.beat < own.length for a, b in pairwise(own.changes))
    for key in keys_of(own.key.mode):
        moved = in_key(own, key)
        away = key.tonic.pitch_class - own.key.tonic.pitch_class
        letters = key.tonic.letter - own.key.tonic.letter
        assert [change.beat for change in moved.changes] == [change.beat for change in own.changes]
        for before, after in zip(own.changes, moved.changes, strict=True):
            root = after.chord.root
            assert (root.pitch_class - before.chord.root.pitch_class - away) % 12 == 0
            assert (root.letter - before.chord.root.letter - letters) % 7 == 0
            assert abs(root.accidental) <= 1
            assert after.chord.suffix == before.chord.suffix
        # A root that the key has is written as the key has it.
        scale = {note.pitch_class: note for note in key.scale}
        roots = [change.chord.root for change in moved.changes]
        assert all(scale.get(root.pitch_class, root) == root for root in roots)
        assert [c.chord for c in in_key(moved, own.key).changes] == [c.chord for c in own.changes]


def test_what_leads_to_a_root_that_is_written_simpler_follows_it() -> None:
    typed = parse_progression("Fm7 Bb7 | Ebmaj7 | Dm7 G7 | Cmaj7")
    moved = in_key(typed, parse_key("Gb"))
    assert [change.chord.symbol for change in moved.changes] == ["Bm7", "E7", "Amaj7", "Abm7", "Db7", "Gbmaj7"]


@pytest.mark.parametrize(
    ("order", "keys", "expected"),
    [
        ("fourths", "C Bb F", "C F Bb"),
        ("fourths", "Eb C F", "Eb C F"),
        ("chromatic", "Eb C F", "Eb F C"),
        ("chromatic-down", "Eb C F", "Eb C F"),
        ("whole-tone", "Eb F C G", "Eb F G C"),
        ("minor-thirds", "A C Eb Gb", "A C Eb Gb"),
    ],
)
def test_keys_come_in_their_order_from_the_first_one_on(order: str, keys: str, expected: str) -> None:
    found = in_order([parse_key(key) for key in keys.split()], order)
    assert " ".join(map(str, found)) == expected


def test_a_random_order_has_every_key_once_and_depends_on_the_seed_alone() -> None:
    orders = [in_order(keys_of("minor"), "random", seed) for seed in range(20)]
    assert all(sorted(map(str, order)) == sorted(map(str, keys_of("minor"))) for order in orders)
    assert len(set(orders)) > 15
    assert orders[7] == in_order(keys_of("minor"), "random", 7)
    assert "random" in KEY_ORDERS


def test_bars_of_the_forms() -> None:
    bars = {name: own.bars for name, own in PROGRESSIONS.items()}
    assert (bars["blues"], bars["minor-blues"], bars["aaba"], bars["two-five-one"]) == (12, 12, 32, 4)
    form = PROGRESSIONS["aaba"]
    eights = [
        [(c.chord.symbol, c.beat - start) for c in form.changes if start <= c.beat < start + 24]
        for start in (Fraction(0), Fraction(32), Fraction(96))
    ]
    assert eights[0] == eights[1] == eights[2]
