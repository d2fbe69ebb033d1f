"""What a person meets: every page on a narrow phone and at a desk, in both schemes, with and without scripts."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any
from urllib.parse import quote

import names
import pytest
from browsing import DESK, PHONE, Served, Visit

from engine.drills.catalogue import CATALOGUE
from engine.lines.devices.recognise import GROUPS
from engine.lines.stock import stock
from engine.practice.drill_link import LONGEST_WORDS
from engine.practice.line_in_link import to_link
from engine.practice.rounds import plan_round
from engine.view.round import round_html

ROOT = Path(__file__).resolve().parents[2]
AXE = ROOT / "node_modules" / "axe-core" / "axe.min.js"

DRILLS = [f"drills/{entry.slug}.html" for entry in CATALOGUE]
TEXTS = [
    "drills/index.html",
    "handbook/index.html",
    *(f"handbook/{slug}.html" for slug in [*dict.fromkeys(entry.handbook for entry in CATALOGUE), *GROUPS]),
    "lines/index.html",
    "lines/own.html",
    "lines/new.html",
    "about.html",
    "band.html",
    "care.html",
    "bench.html",
    "licences.html",
    "privacy.html",
    "records.html",
    "settings.html",
]
BOOK = sorted(f"lines/{path.stem}.html" for path in (ROOT / "docs" / "lines").glob("*.abc"))
ALL = ["index.html", *DRILLS, *TEXTS, *BOOK]
# The book's pages are all of a kind: the one of the most notes stands for them where a browser looks at each page.
PAGES = ["index.html", *DRILLS, *TEXTS, "lines/four-windows.html"]
TARGET = 48
PLACE = 44  # of a neck, where a staff stands above it
LINE = to_link(replace(stock()[0], title="The title of a line that is much too long for a phone to show all of it"))

OpenPage = Callable[..., Visit]


def without_script(visit: OpenPage, served: Served, path: str, viewport: dict[str, int] = PHONE) -> Any:
    """A page in a browser that runs no scripts."""
    page = visit(viewport=viewport, java_script_enabled=False).page
    page.goto(served.url(path))
    return page


def with_quiet_client(visit: OpenPage, served: Served, path: str, **options: object) -> Any:
    """A page whose client does nothing, so that a test can look into it without the engine being loaded."""
    served.replaced["app/client.js"] = ""
    page = visit(**options).page
    page.goto(served.url(path))
    return page


def test_the_list_of_pages_is_whole(site: Path) -> None:
    built = {path.relative_to(site).as_posix() for path in site.rglob("*.html")}
    assert built == set(ALL)


def test_no_page_sets_style_or_script_inline(site: Path) -> None:
    """The policy would block it, and the look would depend on the page."""
    for path in ALL:
        text = (site / path).read_text(encoding="utf-8")
        assert not re.search(r"""\sstyle=|<style|\son[a-z]+=["']|javascript:""", text), path
        assert not re.findall(r"<script(?! type=\"application/json\")(?![^>]* src=)", text), path


def test_tags_of_the_texts_are_all_answered(site: Path) -> None:
    for path in ALL:
        assert not re.search(r"\[\[[a-z]+ ", (site / path).read_text(encoding="utf-8")), path


def test_pages_refer_to_their_site_by_relative_addresses(site: Path) -> None:
    for path in ALL:
        text = (site / path).read_text(encoding="utf-8")
        addresses = re.findall(r'(?:href|src)="([^"#]+)', text)
        assert len(addresses) > 5
        for address in addresses:
            assert not re.match(r"[a-z]+:|/", address), f"{path}: {address}"
            assert (site / path).parent.joinpath(address).resolve().is_file(), f"{path}: {address}"


@pytest.mark.browser
@pytest.mark.parametrize("width", [320, 360, 768, 1280])
def test_no_page_scrolls_sideways(visit: OpenPage, served: Served, width: int) -> None:
    page = with_quiet_client(visit, served, "index.html", viewport={"width": width, "height": 740})
    for path in PAGES:
        page.goto(served.url(path))
        assert page.evaluate("() => document.documentElement.scrollWidth") <= width, path


@pytest.mark.browser
@pytest.mark.parametrize("viewport", [PHONE, DESK], ids=["phone", "desk"])
def test_pages_are_accessible(visit: OpenPage, served: Served, viewport: dict[str, int]) -> None:
    page = with_quiet_client(visit, served, "index.html", viewport=viewport)
    axe = AXE.read_text(encoding="utf-8")
    for path in PAGES:
        page.goto(served.url(path))
        page.evaluate(axe)
        assert _violations(page) == [], path
        if page.locator(".round").count():
            page.locator("#q1 input").first.check(force=True)
            assert _violations(page) == [], f"{path} after an answer"
            page.evaluate("() => document.querySelector('#result').classList.add('now')")
            assert _violations(page) == [], f"{path} at its result"


def _violations(page: Any) -> list[str]:
    found: list[dict[str, Any]] = []
    # The other scheme has other colours and nothing else.
    for scheme, options in (("light", {}), ("dark", {"runOnly": ["color-contrast", "link-in-text-block"]})):
        page.emulate_media(color_scheme=scheme)
        found += page.evaluate(
            "async (options) => (await axe.run({ resultTypes: ['violations'], ...options })).violations", options
        )
    return [f"{rule['id']}: {node['html'][:200]}" for rule in found for node in rule["nodes"]]


@pytest.mark.browser
@pytest.mark.parametrize("viewport", [PHONE, DESK], ids=["phone", "desk"])
def test_targets_are_large_enough(visit: OpenPage, served: Served, viewport: dict[str, int]) -> None:
    page = with_quiet_client(visit, served, "index.html", viewport=viewport)
    for path in PAGES:
        page.goto(served.url(path))
        targets = page.locator("a:visible, button:visible:not(.unseen), .choice input:visible")
        # A link inside a sentence is as high as its line; the rules for targets leave those out.
        boxes = targets.evaluate_all(
            "all => all.filter(one => !one.closest('.text p')).map(one => "
            "[one.outerHTML.slice(0, 80), one.getBoundingClientRect().height, one.getBoundingClientRect().width, "
            "Boolean(one.closest('.board'))])"
        )
        assert len(boxes) >= 5
        small = [box for box in boxes if box[1] < (PLACE if box[3] else TARGET) or box[2] < (PLACE if box[3] else 24)]
        assert not small, path


@pytest.mark.browser
@pytest.mark.parametrize("path", ["index.html", *DRILLS])
def test_a_question_and_its_answer_fit_a_phone(visit: OpenPage, served: Served, path: str) -> None:
    """All of it can be read without scrolling: what is asked, the choices, why, and the way on."""
    page = without_script(visit, served, path)
    count = page.locator(".question").count()
    for number in range(1, count + 1):
        question = page.locator(f"#q{number}")
        places = _places(question)
        question.locator(".choice:not(.right) label:visible").last.click()
        assert _places(question) == places, f"question {number} moved its choices"
        why = question.locator(".why:visible")
        # Beside the reasons of the right choice and of this one, what is said of a figure as a whole.
        assert why.count() == 2 + question.locator(".whole").count()
        following = question.locator(".next").bounding_box()
        last = why.last.bounding_box()
        assert following["y"] + following["height"] <= PHONE["height"]
        assert last["y"] + last["height"] <= following["y"] + 1, f"the reason of question {number} is covered"
        question.locator(".next").click()


def _places(question: Any) -> list[tuple[int, int]]:
    boxes = [question.locator(".choice label").nth(number).bounding_box() for number in range(4)]
    return [(round(box["x"]), round(box["y"])) for box in boxes]


@pytest.mark.browser
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_keyboard_of_a_picture_has_white_keys_and_black_ones(visit: OpenPage, served: Served, scheme: str) -> None:
    page = visit(java_script_enabled=False, color_scheme=scheme).page
    page.goto(served.url("drills/arpeggio-from-the-third.html"))
    page.locator("#q1 .choice.right label").click()
    fills = {
        kind: page.locator(f"#q1 .picture.after .{kind}").first.evaluate("(key) => getComputedStyle(key).fill")
        for kind in ("white", "black")
    }
    shades = {kind: sum(map(int, re.findall(r"\d+", fill)[:3])) / 3 for kind, fill in fills.items()}
    assert shades["white"] > 160, fills
    assert shades["black"] < 80, fills


@pytest.mark.browser
@pytest.mark.parametrize("viewport", [PHONE, DESK], ids=["phone", "desk"])
def test_a_round_plays_without_scripts(visit: OpenPage, served: Served, viewport: dict[str, int]) -> None:
    page = without_script(visit, served, "drills/arpeggio-from-the-third.html", viewport)
    first = page.locator("#q1")
    assert page.locator(".question:visible").count() == 1
    for hidden in (".gloss", ".verdict", ".why", ".next", ".picture.after"):
        assert first.locator(f"{hidden}:visible").count() == 0, hidden
    assert first.locator(".picture.before").is_visible()

    first.locator(".choice.wrong label").first.click()
    mine, right = (first.locator(f"{kind} .label").inner_text() for kind in (".wrong:has(:checked)", ".right"))
    assert _verdicts(first) == {f"{mine}: yours, not right", f"{right}: right"}
    assert first.locator(".why:visible").count() == 2
    assert first.locator(".gloss:visible").count() == 4
    assert first.locator(".picture.after").is_visible()
    assert not first.locator(".picture.before").is_visible()
    # The first answer stays.
    box = first.locator(".choice.right").bounding_box()
    page.mouse.click(box["x"] + 20, box["y"] + 20)
    assert not first.locator(".choice.right input").is_checked()

    first.locator(".next").click()
    assert page.url.endswith("#q2")
    second = page.locator("#q2")
    assert not first.is_visible()
    second.locator(".choice.right label").click()
    assert _verdicts(second) == {second.locator(".right .label").inner_text() + ": right"}
    assert second.locator(".why:visible").count() == 1

    for number in range(2, 10):
        page.locator(f"#q{number} .next").click() if number == 2 else None
        page.locator(f"#q{number + 1} .choice.right label").click()
        page.locator(f"#q{number + 1} .next").click()
    assert page.url.endswith("#result")
    result = page.locator("#result")
    assert _shown_count(page) == "9"
    assert result.locator(".again li:visible").count() == 1
    assert result.locator(".again .answer:visible").inner_text() == first.locator(".right .label").text_content()

    result.locator("button[type=reset]").click()
    assert _shown_count(page) == "0"
    assert page.locator(".round input:checked").count() == 0
    result.locator("a.first").click()
    assert first.is_visible()
    assert first.locator(".hint").is_visible()


def _verdicts(question: Any) -> set[str]:
    """The visible verdicts with what is there for the ear: which choice each is about."""
    return set(question.locator(".verdict:visible").all_text_contents())


def _shown_count(page: Any) -> str:
    """The number that the style sheet has counted, as a screen reader finds it before "of 10 right"."""
    tree = page.context.new_cdp_session(page).send("Accessibility.getFullAXTree")
    texts = [node["name"]["value"] for node in tree["nodes"] if node.get("role", {}).get("value") == "StaticText"]
    return str(texts[texts.index("of 10 right") - 1])


@pytest.mark.browser
def test_usable_is_never_called_wrong(visit: OpenPage, served: Served) -> None:
    page = without_script(visit, served, "drills/choose-the-resolution.html")
    usable = page.locator("#q1 .choice.usable")
    assert usable.count() >= 1
    usable.locator("label").first.click()
    said = _verdicts(page.locator("#q1"))
    assert usable.first.locator(".label").inner_text() + ": usable, not asked" in said
    assert len(said) == 2
    assert not [verdict for verdict in said if "yours" in verdict]


@pytest.mark.browser
def test_verdicts_differ_without_colour(visit: OpenPage, served: Served) -> None:
    page = with_quiet_client(visit, served, "drills/arpeggio-from-the-third.html", viewport=PHONE)
    page.locator("#q1 .choice.wrong input").first.check(force=True)
    style = "all => all.map(one => getComputedStyle(one).borderTopStyle)"
    assert page.locator("#q1 .right label").evaluate_all(style) == ["solid"]
    assert page.locator("#q1 .wrong:has(:checked) label").evaluate_all(style) == ["dashed"]


@pytest.mark.browser
def test_nothing_moves_under_reduced_motion(visit: OpenPage, served: Served) -> None:
    page = with_quiet_client(visit, served, "index.html", viewport=PHONE, reduced_motion="reduce")
    durations = page.evaluate(
        "() => [...document.querySelectorAll('*')].flatMap(one => getComputedStyle(one).transitionDuration.split(', '))"
    )
    assert set(durations) == {"0s"}


@pytest.mark.browser
def test_the_faces_are_ours_and_small(visit: OpenPage, served: Served, site: Path) -> None:
    page = with_quiet_client(visit, served, "drills/choose-the-resolution.html", viewport=PHONE)
    page.evaluate("() => document.fonts.ready.then(() => true)")
    loaded = page.evaluate("() => [...document.fonts].filter(one => one.status === 'loaded').map(one => one.family)")
    assert {family.strip('"') for family in loaded} >= {"Linekeeper Display", "Linekeeper Signs"}
    fonts = names.published(site, "app/client.js").parent / "fonts"
    assert (fonts / "display.woff2").stat().st_size < 35_000
    assert (fonts / "signs.woff2").stat().st_size < 5_000
    for licence in ("display-licence.txt", "signs-licence.txt"):
        assert "SIL OPEN FONT LICENSE" in (fonts / licence).read_text(encoding="utf-8")


@pytest.mark.browser
@pytest.mark.parametrize("sign", "♭♯♮𝄫𝄪△→")
def test_signs_are_wider_by_a_hair_and_stand_on_the_line(visit: OpenPage, served: Served, sign: str) -> None:
    """Drawn by the site's own font, whatever the system has: the same sign in the system's face is not as wide."""
    page = with_quiet_client(visit, served, "drills/choose-the-resolution.html", viewport=PHONE)
    widths = page.evaluate(
        """async sign => {
          await document.fonts.load('100px "Linekeeper Signs"', sign);
          const pen = document.createElement('canvas').getContext('2d');
          pen.font = '100px "Linekeeper Signs", monospace';
          const ours = pen.measureText(sign);
          return [ours.width, ours.actualBoundingBoxLeft, ours.actualBoundingBoxRight];
        }""",
        sign,
    )
    width, left, right = widths
    assert -left == pytest.approx(3.4, abs=1.5)
    assert width - right == pytest.approx(3.4, abs=1.5)


@pytest.mark.browser
@pytest.mark.parametrize("sign", ["W", "word ", "我"])
def test_a_teachers_sentence_leaves_the_choices_in_view(sign: str, visit: OpenPage, served: Served) -> None:
    page = with_quiet_client(visit, served, DRILLS[0], viewport=PHONE, has_touch=True, is_mobile=True)
    words = quote((sign * LONGEST_WORDS)[:LONGEST_WORDS])
    for entry in CATALOGUE:
        line = f"&line={LINE}" if entry.takes_line else ""
        for seed in range(6):
            html = round_html(plan_round(entry.slug, f"words={words}{line}&level=2", seed, 1))
            page.evaluate("html => { document.getElementById('round').outerHTML = html; }", html)
            said = page.locator("#q1 .with-link")
            assert said.is_visible()
            below = page.locator("#q1 .choice label:visible").last.bounding_box()
            assert below["y"] + below["height"] <= PHONE["height"], (entry.slug, seed)
            assert page.evaluate("() => document.documentElement.scrollWidth") == PHONE["width"]
            title = page.locator("#q1 .title")
            if line:
                box = title.bounding_box()
                assert box["y"] + box["height"] <= said.bounding_box()["y"]
                assert box["x"] >= 0
