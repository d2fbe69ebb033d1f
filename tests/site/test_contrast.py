"""Every pair of colours that the style sheets put on each other has the contrast of WCAG AA, light and dark."""

import re
from pathlib import Path

import pytest

APP = Path(__file__).resolve().parents[2] / "docs" / "app"
LOOK = (APP / "look.css").read_text(encoding="utf-8")

TEXT = 4.5  # 1.4.3, for text of any size
SHAPE = 3.0  # 1.4.11, for what is needed to see a control or a picture

PAIRS = [
    ("ink", "paper", TEXT),
    ("ink", "card", TEXT),
    ("soft", "paper", TEXT),
    ("soft", "card", TEXT),
    ("right", "paper", TEXT),
    ("right", "card", TEXT),
    ("missed", "paper", TEXT),
    ("missed", "card", TEXT),
    ("on-sleeve", "sleeve", TEXT),
    ("on-sleeve-soft", "sleeve", TEXT),
    ("on-button", "button", TEXT),
    ("button", "paper", SHAPE),
    ("edge", "paper", SHAPE),
    ("edge", "card", SHAPE),
    ("sleeve-rule", "sleeve", SHAPE),
    ("on-key-white", "key-white", TEXT),
    ("on-key-black", "key-black", TEXT),
    ("key-black", "key-white", SHAPE),
    ("key-white", "sleeve", SHAPE),
    ("scan-dark", "scan-light", TEXT),
]


def _colours(css: str) -> dict[str, str]:
    return dict(re.findall(r"--([a-z-]+): (#[0-9a-f]{6});", css))


LIGHT_TEXT, DARK_TEXT = LOOK.split("@media (prefers-color-scheme: dark)")
SCHEMES = {"light": _colours(LIGHT_TEXT), "dark": _colours(DARK_TEXT)}


def _luminance(colour: str) -> float:
    """Relative luminance as WCAG 2.2 defines it."""
    channels = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    linear = [value / 12.92 if value <= 0.04045 else ((value + 0.055) / 1.055) ** 2.4 for value in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    """The contrast ratio of two colours, 1 to 21."""
    high, low = sorted((_luminance(one), _luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def test_the_ratio_is_that_of_the_standard() -> None:
    assert contrast("#ffffff", "#000000") == pytest.approx(21)
    assert contrast("#777777", "#ffffff") == pytest.approx(4.48, abs=0.01)


@pytest.mark.parametrize("scheme", SCHEMES)
@pytest.mark.parametrize(("front", "back", "least"), PAIRS)
def test_contrast(scheme: str, front: str, back: str, least: float) -> None:
    colours = SCHEMES[scheme]
    assert contrast(colours[front], colours[back]) >= least


def test_both_schemes_define_the_same_colours_and_each_is_checked() -> None:
    assert SCHEMES["light"].keys() == SCHEMES["dark"].keys()
    checked = {name for front, back, _ in PAIRS for name in (front, back)}
    # A rule only parts what a heading and the space around it part already.
    assert checked == SCHEMES["light"].keys() - {"rule"}


def test_no_colour_is_set_outside_the_palette() -> None:
    """Except for print, which is black on white."""
    sheets = [sheet for sheet in APP.glob("*.css") if sheet.name != "look.css"]
    assert sheets
    for sheet in sheets:
        screen = sheet.read_text(encoding="utf-8").split("@media print")[0]
        assert not re.findall(r"#[0-9a-f]{3,8}\b(?=[;\s])|rgba?\(|hsla?\(", screen), sheet.name
