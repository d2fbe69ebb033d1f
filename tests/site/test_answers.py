"""The answers kept on a device go to a file and back, are forgotten and brought back; no file can do harm."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from browsing import PHONE, Served, Visit
from playwright.sync_api import Page, expect
from practising import DRILL, REFUSED, SPY, WAIT, choose_and_go_on, expect_counted, kept, now, open_page, sentence

from engine.practice.records import FORMAT, read_file

pytestmark = pytest.mark.browser

OpenPage = Callable[..., Visit]


@pytest.fixture(scope="module")
def a_record() -> dict[str, Any]:
    return {
        "v": 1, "round": "0a1b2c3d4e5f6071", "place": 0, "of": "mixed", "drill": "name-the-degree", "rev": 1,
        "options": "v=1", "seed": 1, "index": 0, "skill": "name-the-degree/7/3/C", "choice": 1, "value": "3",
        "right": True, "mistake": None, "ms": 1800, "at": 1_790_000_000_000,
    }  # fmt: skip


def answers_page(page: Page, served: Served) -> None:
    page.goto(served.url("records.html"))
    expect(page.locator("#answers-count")).not_to_be_empty()


def read(page: Page, path: Path) -> None:
    page.locator("#answers-file").set_input_files(path)


def count(page: Page, number: int) -> None:
    expect(page.locator("#answers-count")).to_have_text(sentence(page, "answers-kept").format(count=number))


def test_answers_go_to_a_file_and_come_back(visit: OpenPage, served: Served, tmp_path: Path) -> None:
    page = visit(viewport=PHONE).page
    page.add_init_script(SPY)
    open_page(page, served.url(DRILL))
    choose_and_go_on(page, 0, 1, 2)
    before = kept(page)
    answers_page(page, served)
    count(page, 3)
    assert page.locator("#answers-undo").is_hidden()
    with page.expect_download(timeout=WAIT) as download:
        page.locator('[data-answers="save"]').click()
    file = tmp_path / download.value.suggested_filename
    download.value.save_as(file)
    assert file.suffix == ".json"
    assert sorted(read_file(file.read_text(encoding="utf-8"))[0], key=lambda record: record["at"]) == before

    # Forgotten, and all of it brought back: the round goes on.
    page.locator('[data-answers="forget"]').click()
    count(page, 0)
    expect(page.locator("#answers-said")).to_have_text(sentence(page, "answers-forgotten").format(count=3))
    assert (kept(page), kept(page, "rounds")) == ([], [])
    page.locator("#answers-undo").click()
    count(page, 3)
    assert kept(page) == before
    expect(page.locator("#answers-undo")).to_be_hidden()
    open_page(page, served.url(DRILL))
    assert now(page) == "q4"

    # In another profile, twice: the same records, each once.
    other = visit(viewport=PHONE).page
    answers_page(other, served)
    count(other, 0)
    for fresh in (3, 0):
        read(other, file)
        expect(other.locator("#answers-said")).to_contain_text(
            sentence(other, "answers-read").format(count=fresh), timeout=WAIT
        )
    assert kept(other) == before
    count(other, 3)


def test_forgotten_is_forgotten_once_the_page_is_left(phone: Visit, served: Served) -> None:
    page = phone.page
    open_page(page, served.url(DRILL))
    choose_and_go_on(page, 0)
    answers_page(page, served)
    page.locator('[data-answers="forget"]').click()
    count(page, 0)
    page.reload()
    count(page, 0)
    assert page.locator("#answers-undo").is_hidden()
    open_page(page, served.url(DRILL))
    assert now(page) == "q1"
    assert page.locator("#round input:checked").count() == 0


def test_no_file_can_do_harm(phone: Visit, served: Served, a_record: dict[str, Any], tmp_path: Path) -> None:
    script = "<img src=x onerror='globalThis.harmed=1'><script>globalThis.harmed=1</script>"
    as_file = {"format": FORMAT, "v": 1}
    hostile = {
        "garbage": "\x00<html>\ufffd[[{" * 80_000,
        "nothing": "",
        "later": json.dumps({**as_file, "v": 2, "records": [a_record]}),
        "another": json.dumps({"format": script, "v": 1, "records": [a_record]}),
        "no list": json.dumps({**as_file, "records": {"0": a_record}}),
        "deep": "[" * 200_000,
    }
    page = phone.page
    answers_page(page, served)
    notice = page.locator("#notice span")
    for name, text in hostile.items():
        file = tmp_path / f"{name}.json"
        file.write_text(text, encoding="utf-8")
        read(page, file)
        expect(notice).not_to_be_empty(timeout=WAIT)
        told = str(notice.text_content())
        assert len(told) < 300, name
        assert kept(page) == [], name
        page.locator("#notice button").click()

    # What is no record is left out and counted; what is one stays text, and none takes the place of another.
    wrong = [None, 7, [], {}, {**a_record, "place": "0"}, {**a_record, "right": 1}, {**a_record, "at": 1.5}]
    strings = {name: script for name, value in a_record.items() if isinstance(value, str)}
    bad = {**a_record, **strings, "extra": script}
    second = {**a_record, "choice": 3}
    file = tmp_path / "mixed.json"
    file.write_text(json.dumps({**as_file, "records": [*wrong, a_record, bad, second]}), encoding="utf-8")
    read(page, file)
    expect(page.locator("#answers-said")).to_contain_text(sentence(page, "answers-read").format(count=2), timeout=WAIT)
    expect(page.locator("#answers-said")).to_contain_text(str(len(wrong)))
    expect(notice).to_be_empty()
    stored = kept(page)
    assert {record["round"] for record in stored} == {a_record["round"], script}
    assert [record["choice"] for record in stored] == [1, 1]
    assert all("extra" not in record for record in stored)
    open_page(page, served.url(DRILL))
    choose_and_go_on(page, 0)
    expect_counted(page, 0)
    assert page.evaluate("() => globalThis.harmed") is None
    assert page.locator("img").count() == 0


def test_a_browser_that_keeps_nothing_has_a_page_of_answers(phone: Visit, served: Served) -> None:
    phone.watch.expect("no")  # PyScript looks for a store of its own
    page = phone.page
    page.add_init_script(REFUSED)
    open_page(page, served.url("index.html"))
    choose_and_go_on(page, 0, 1)
    page.locator("footer a", has_text="Your answers").click()
    count(page, 2)
    page.locator('[data-answers="forget"]').click()
    count(page, 0)
