"""Cuts the site's typefaces out of their npm packages: the display face, the signs of music in text, and engraving.

They are small on purpose: a first visit must not wait for letters that no page shows. The same packages
give the same bytes.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fontTools import subset
from fontTools.fontBuilder import FontBuilder
from fontTools.misc.transform import Offset
from fontTools.pens.boundsPen import BoundsPen
from fontTools.pens.t2CharStringPen import T2CharStringPen
from fontTools.pens.transformPen import TransformPen
from fontTools.ttLib import TTFont
from fontTools.varLib import instancer

if TYPE_CHECKING:
    from mkdocs.config.defaults import MkDocsConfig
    from mkdocs.structure.files import Files

FOLDER = "app/fonts"
PACKAGES = Path(__file__).resolve().parents[2] / "node_modules"
DISPLAY_PACKAGE = PACKAGES / "@fontsource-variable" / "bricolage-grotesque"
DISPLAY_SOURCE = DISPLAY_PACKAGE / "files" / "bricolage-grotesque-latin-wdth-normal.woff2"
SIGNS_PACKAGE = PACKAGES / "@vexflow-fonts" / "bravuratext"
SIGNS_SOURCE = SIGNS_PACKAGE / "bravuratext.otf"
MUSIC_PACKAGE = PACKAGES / "@vexflow-fonts" / "bravura"
MUSIC_SOURCE = MUSIC_PACKAGE / "bravura.otf"

# Printable ASCII, and the few signs beside it that the pages' display text uses.
DISPLAY_TEXT = "".join(map(chr, range(0x20, 0x7F))) + "\u00a0°·×Øøéö–—‘’“”…−"
DISPLAY_AXES = {"wght": (500, 800)}  # nothing lighter is set in it; the width is used whole

# What an engraved line needs, by its places in SMuFL, the Standard Music Font Layout.
MUSIC_TEXT = "".join(
    chr(code)
    for first, last in (
        (0xE050, 0xE054),  # treble clefs, also with an 8 or a 15
        (0xE080, 0xE089),  # figures of time signatures
        (0xE0A0, 0xE0A0), (0xE0A2, 0xE0A4),  # note heads
        (0xE1E7, 0xE1E7),  # the dot behind a note
        (0xE240, 0xE249),  # flags
        (0xE260, 0xE264), (0xE26A, 0xE26B),  # accidentals, parentheses
        (0xE4E2, 0xE4EA),  # rests
        (0xE880, 0xE889),  # figures of tuplets
    )
    for code in range(first, last + 1)
)  # fmt: skip
MUSIC_NAME = "Linekeeper Music"

# The signs, drawn at one scale so that they stand beside capitals 660 high.
SCALE = 0.8
UNITS = 1000
ASCENT, DESCENT = 930, -270  # the display face's own, so that a sign never makes a line higher
CAPITALS = 660
HAIR = 34  # space on either side of a sign
# In Bravura Text the accidentals with their own code points are this much larger than those for staves,
# and it has the doubled ones at the staves' size only.
TEXT_OVER_STAVE = 1.625
# A font carries the time it was made, in seconds since 1904; a fixed one keeps two builds alike.
SOME_DAY = 3_786_912_000
DOUBLE_FLAT_OVERLAP = 0.8  # the second flat starts after this share of the first one's width


def on_files(files: Files, *, config: MkDocsConfig) -> Files:
    """MkDocs' event: adds the fonts and their licences to the site."""
    from mkdocs.structure.files import File

    made = {
        "display.woff2": display_face(DISPLAY_SOURCE),
        "display-licence.txt": (DISPLAY_PACKAGE / "LICENSE").read_bytes(),
        "signs.woff2": signs_face(SIGNS_SOURCE),
        "signs-licence.txt": (SIGNS_PACKAGE / "LICENSE.txt").read_bytes(),
    }
    for name, content in made.items():
        files.append(File.generated(config, f"{FOLDER}/{name}", content=content))
    return files


def display_face(source: Path) -> bytes:
    """The display face: Latin only, its weights from 500 up, its kerning the same at every weight."""
    font = TTFont(source, recalcTimestamp=False)
    options = subset.Options(layout_features=["kern"], hinting=False, notdef_outline=True)
    cut = subset.Subsetter(options)
    cut.populate(text=DISPLAY_TEXT)
    cut.subset(font)
    _fix_kerning(font)
    return _woff2(instancer.instantiateVariableFont(font, DISPLAY_AXES))


def _fix_kerning(font: TTFont) -> None:
    """Kerning that varies with the weight is half of the file; pairs that stay as at the boldest will do."""
    table = font["GPOS"].table

    def settle(value: Any) -> None:
        for name in ("XPlaDevice", "YPlaDevice", "XAdvDevice", "YAdvDevice"):
            if value is not None and hasattr(value, name):
                delattr(value, name)

    for lookup in table.LookupList.Lookup:
        for part in lookup.SubTable:
            pairs = getattr(part, "ExtSubTable", part)
            for group in getattr(pairs, "PairSet", ()) or ():
                for record in group.PairValueRecord:
                    settle(record.Value1)
                    settle(record.Value2)
            for first in getattr(pairs, "Class1Record", ()) or ():
                for second in first.Class2Record:
                    settle(second.Value1)
                    settle(second.Value2)
            for name in ("ValueFormat1", "ValueFormat2"):
                if hasattr(pairs, name):
                    setattr(pairs, name, getattr(pairs, name) & 0x0F)


def music_face(source: Path = MUSIC_SOURCE) -> bytes:
    """The signs of engraving, for docs/app/engraver.js; named anew, like ``signs_face``."""
    font = TTFont(source, recalcTimestamp=False)
    cut = subset.Subsetter(subset.Options(layout_features=[], hinting=False, drop_tables=["DSIG", "GDEF"]))
    cut.populate(text=MUSIC_TEXT)
    cut.subset(font)
    plain = MUSIC_NAME.replace(" ", "") + "-Regular"
    # Beside its own lines the notice holds the whole licence, which the page of licences shows.
    notice = str(font["name"].getDebugName(0)).partition("\n\n")[0]
    kept = {0: notice, 1: MUSIC_NAME, 2: "Regular", 3: f"{MUSIC_NAME} 1", 4: MUSIC_NAME, 6: plain}
    font["name"].names = [record for record in font["name"].names if record.nameID in kept]
    for record in font["name"].names:
        record.string = kept[record.nameID]
    table = font["CFF "].cff
    table.fontNames = [plain]
    table[0].rawDict |= {"FullName": MUSIC_NAME, "FamilyName": MUSIC_NAME, "Notice": notice, "Copyright": notice}
    return _woff2(font)


def signs_face(source: Path) -> bytes:
    """A font of its own with ♭ ♯ ♮ 𝄫 𝄪, △ and →, all with a hair of space around them.

    It is named anew because its makers reserve the original's name for the original.
    """
    original = TTFont(source)
    drawn = original.getGlyphSet()
    names = original.getBestCmap()
    order = [".notdef"]
    charstrings = {".notdef": T2CharStringPen(0, None).getCharString()}
    widths = {".notdef": (0, 0)}
    codes = {}

    def add(sign: str, parts: list[tuple[Any, float, float, float]], width: float) -> None:
        """A sign of parts, each a drawing with its scale and where it is moved to."""
        name = f"uni{ord(sign):04X}" if ord(sign) < 0x10000 else f"u{ord(sign):X}"
        advance = round(width) + 2 * HAIR
        pen = T2CharStringPen(advance, None)
        for drawing, scale, right, up in parts:
            drawing.draw(TransformPen(pen, Offset(HAIR + right, up).scale(scale)))
        order.append(name)
        charstrings[name] = pen.getCharString()
        widths[name] = (advance, HAIR)
        codes[ord(sign)] = name

    for sign in "♭♯♮":
        glyph = drawn[names[ord(sign)]]
        add(sign, [(glyph, SCALE, 0, 0)], glyph.width * SCALE)
    flat = drawn[names[ord("♭")]]
    second = flat.width * SCALE * DOUBLE_FLAT_OVERLAP
    add("𝄫", [(flat, SCALE, 0, 0), (flat, SCALE, second, 0)], second + flat.width * SCALE)
    double_sharp = drawn[names[ord("𝄪")]]
    scale = SCALE * TEXT_OVER_STAVE
    bounds = BoundsPen(drawn)
    double_sharp.draw(bounds)
    middle = (bounds.bounds[1] + bounds.bounds[3]) / 2 * scale
    add("𝄪", [(double_sharp, scale, 0, CAPITALS / 2 - middle)], double_sharp.width * scale)
    add("△", [(_Triangle(), 1, 0, 0)], _Triangle.WIDTH)
    add("→", [(_Arrow(), 1, 0, 0)], _Arrow.WIDTH)

    font = FontBuilder(UNITS, isTTF=False)
    font.setupGlyphOrder(order)
    font.setupCharacterMap(codes)
    font.setupCFF("LinekeeperSigns-Regular", {"FullName": "Linekeeper Signs"}, charstrings, {})
    font.setupHorizontalMetrics(widths)
    font.setupHorizontalHeader(ascent=ASCENT, descent=DESCENT)
    font.setupNameTable(
        {
            "copyright": str(original["name"].getDebugName(0)),
            "familyName": "Linekeeper Signs",
            "styleName": "Regular",
            "uniqueFontIdentifier": "Linekeeper Signs 1",
            "fullName": "Linekeeper Signs",
            "version": "Version 1.0",
            "psName": "LinekeeperSigns-Regular",
            "licenseDescription": "SIL Open Font License, Version 1.1",
        },
        mac=False,
    )
    font.setupOS2(sTypoAscender=ASCENT, sTypoDescender=DESCENT, usWinAscent=ASCENT, usWinDescent=-DESCENT)
    font.setupPost()
    font.font["head"].created = font.font["head"].modified = SOME_DAY
    font.font.recalcTimestamp = False
    return _woff2(font.font)


class _Triangle:
    """The sign of the major seventh, drawn as an outline as heavy as the accidentals' thick strokes."""

    WIDTH = 560
    HEIGHT = 520
    STROKE = 62

    def draw(self, pen: Any) -> None:
        """Draws the outer triangle, then the inner one the other way round."""
        side = (self.WIDTH**2 / 4 + self.HEIGHT**2) ** 0.5
        inset = self.STROKE * (side + self.WIDTH / 2) / self.HEIGHT
        top = self.HEIGHT - self.STROKE * side / (self.WIDTH / 2)
        outer = [(0, 0), (self.WIDTH / 2, self.HEIGHT), (self.WIDTH, 0)]
        inner = [(inset, self.STROKE), (self.WIDTH - inset, self.STROKE), (self.WIDTH / 2, top)]
        for points in (outer, inner):
            _draw_polygon(pen, points)


class _Arrow:
    """The sign between two chords; many systems have a thin one only."""

    WIDTH = 640
    STROKE = 84
    HEAD = 210  # how far its head reaches up, down and back
    MIDDLE = 300

    def draw(self, pen: Any) -> None:
        """Draws the shaft and the two strokes of the head as one outline."""
        half = self.STROKE / 2
        slant = self.STROKE * 2**0.5
        tip, back = self.WIDTH, self.WIDTH - self.HEAD
        upper = [
            (0, half),
            (tip - slant - half, half),
            (back - slant / 2, self.HEAD - slant / 2),
            (back, self.HEAD),
            (tip, 0),
        ]
        lower = [(x, -y) for x, y in reversed(upper[:-1])]
        _draw_polygon(pen, [(x, y + self.MIDDLE) for x, y in upper + lower])


def _draw_polygon(pen: Any, points: Sequence[tuple[float, float]]) -> None:
    pen.moveTo(points[0])
    for point in points[1:]:
        pen.lineTo(point)
    pen.closePath()


def _woff2(font: TTFont) -> bytes:
    font.flavor = "woff2"
    out = io.BytesIO()
    font.save(out, reorderTables=True)
    return out.getvalue()
