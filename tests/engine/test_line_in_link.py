"""A line in a link: what travels comes back, and what was cut or is hostile is told in one sentence."""

import re
from dataclasses import replace
from urllib.parse import quote, unquote

import pytest

from engine.formats.abc import read_abc
from engine.lines.line import Line
from engine.lines.stock import stock
from engine.practice.line_in_link import LONGEST_LINE, MOST_NOTES, from_link, quoted, to_link
from engine.theory.bad_input import BadInput
from tests.engine.lines_at_random import line_at_random

LINES = (*stock(), *map(line_at_random, range(300)))
MUSIC = '"Dm7"FAcedcBA|"G7"Bdfagf^F^D|"Cmaj7"E8|]'
PORCH_LIGHT = replace(read_abc(f"M:4/4\nK:C\n{MUSIC}")[0], title="Porch light")
# Letters and digits, percent codes, and signs that no messenger takes for the end of a link or for a mark of its own.
KEPT_WHOLE = re.compile(r"(?:[A-Za-z0-9=_/,-]|%[0-9A-F]{2})*(?<=[A-Za-z0-9])")


def brought_along(line: Line) -> Line:
    """What of a line travels."""
    return replace(line, number=1, composer="", tempo=None)


@pytest.mark.parametrize("line", LINES, ids=range(len(LINES)))
def test_a_line_comes_back_as_it_went(line: Line) -> None:
    value = to_link(line)
    assert from_link(value) == brought_along(line)
    assert to_link(from_link(value)) == value
    assert KEPT_WHOLE.fullmatch(value)
    assert len(value) < 900


def test_a_line_takes_few_signs() -> None:
    """Three bars of eighth notes: little more than a sentence, so that a picture to scan stays coarse."""
    assert max(len(to_link(line)) for line in stock()) <= 110
    assert to_link(PORCH_LIGHT) == quote(f"T:Porch light\nM:4/4\nL:1/8\nK:C\n{MUSIC}", safe="=_/,")


def test_all_that_is_said_of_a_line_travels() -> None:
    line = replace(PORCH_LIGHT, title="50 % “ø\\”~.", remarks=("Over the third.", "Bar 2: ^F!", "می‌خواهم"))
    assert from_link(to_link(line)) == line


def test_what_cannot_be_printed_stays_at_home() -> None:
    title = "Porch\u202e\x07\xa0light\ud800"
    assert from_link(to_link(replace(PORCH_LIGHT, title=title))).title == "Porch light"


def test_a_value_that_was_cut_anywhere_is_told() -> None:
    value = to_link(PORCH_LIGHT)
    for length in range(len(value)):
        with pytest.raises(BadInput, match="copy the whole link again"):
            from_link(value[:length])


@pytest.mark.parametrize(
    ("value", "told"),
    [
        ("", "is where the line breaks off"),
        ("Porch%20light", "is where the line breaks off"),
        (f"K:C\n{MUSIC[:-1]}", "is where the line breaks off"),
        ("%ff%fe|]", "is no text"),
        (f"T:a\x00b\nK:C\n{MUSIC}", "has signs that cannot be printed"),
        (f"T:a%00b%0AK:C%0A{MUSIC}", "has signs that cannot be printed"),
        (f"T:a\u202eb\nK:C\n{MUSIC}", "has signs that cannot be printed"),
        (f"X:1\nK:C\n{MUSIC}\nX:2\nK:C\n{MUSIC}", "holds 2 lines"),
        ("K:C\n" + "Z" * LONGEST_LINE + "|]", "is too long for a line in a link"),
        ('K:C\n"C7"' + "cccccccc|" * 40 + "|]", "has 320 notes, too many to hand on"),
        ('K:C\n"C7"c8|Z900|]', "signs, too many to hand on"),
        ("|]", "comes before the key"),
        ("K:C\ncdef|]", "has no chord"),
        ('K:C\n"<script>"c8|]', "chord"),
        ('K:C\n"C7"[ceg]8|]', "sounds several notes at once"),
        ("<script>alert(1)</script>|]", "is no sign of music|comes before the key"),
    ],
)
def test_what_is_no_line_is_told_in_one_sentence(value: str, told: str) -> None:
    with pytest.raises(BadInput, match=told) as fault:
        from_link(value)
    sentence = str(fault.value)
    assert sentence.isprintable()
    assert sentence.endswith(".")
    assert len(sentence) < 250


def test_more_than_a_link_takes_is_refused_on_the_way_out_too() -> None:
    chorus = read_abc('K:C\n"C7"' + "cccccccc|" * (MOST_NOTES // 8) + "]")[0]
    assert from_link(to_link(chorus)) == chorus
    with pytest.raises(BadInput, match=f"has {MOST_NOTES + 8} notes, too many to hand on"):
        to_link(read_abc('K:C\n"C7"' + "cccccccc|" * (MOST_NOTES // 8 + 1) + "]")[0])
    with pytest.raises(BadInput, match=r'"Porch light" takes 2,\d{3} signs, too many to hand on'):
        to_link(replace(PORCH_LIGHT, remarks=("word " * 280,)))


@pytest.mark.parametrize("text", ["", "Slowly.", "and so on -", "a_", "3/4,", "what?", "“quoted”", "~", "a=b&c#d"])
def test_quoted_words_end_with_no_sign_that_is_cut_off(text: str) -> None:
    assert KEPT_WHOLE.fullmatch(quoted(text)) or not text
    assert unquote(quoted(text)) == text
