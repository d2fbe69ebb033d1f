"""Everything that is shipped is told, with its version, its licence and the licence's full text."""

import json
import re
import subprocess
from html import unescape
from pathlib import Path

import bundle
import licences
import names
import pytest
import toolchain

# What is ours alone, or holds nothing but what our own programs wrote.
OURS = re.compile(
    r".*\.html|.*\.css|app/boot\.js|icons/.*|runtime/(interpreter\.mjs|worker\.py)|"
    r"runtime/packs/more\.zip|sw\.js|_headers|\.htaccess|.*\.webmanifest|.*\.md|.*\.txt"
)
# Words that the text of a licence has.
WORDS = {
    "0BSD": "Permission to use, copy, modify",
    "Apache": "Apache License", "BSD": "Redistribution and use", "CC": "Creative Commons",
    "ISC": "ISC License",
    "MIT": "free of charge", "MPL": "Mozilla Public License", "OFL": "SIL OPEN FONT LICENSE",
    "PSF": "PSF LICENSE", "public": "public domain",
}  # fmt: skip
# Prints the packages that a bundle was put together from.
INSIDE = """
import { build } from "esbuild";
const { metafile } = await build({ entryPoints: [process.argv[1]], bundle: true, metafile: true, write: false });
const names = Object.keys(metafile.inputs).map((path) => path.match(/node_modules\\/((?:@[^/]+\\/)?[^/]+)/)?.[1]);
console.log(JSON.stringify([...new Set(names.filter(Boolean))]));
"""
DIST = licences.PACKAGES / "@pyscript" / "core" / "dist"


def test_every_shipped_file_is_ours_or_of_a_part_that_is_told(site: Path) -> None:
    paths = [names.plain(path.relative_to(site).as_posix()) for path in names.files_of(site)]
    untold = [path for path in paths if not licences.covering(path) and not OURS.fullmatch(path)]
    assert untold == []


def test_every_part_that_is_told_is_shipped(site: Path) -> None:
    paths = [names.plain(path.relative_to(site).as_posix()) for path in names.files_of(site)]
    shipped = {name for path in paths for name in licences.covering(path)}
    assert {part.name for part in licences.parts()} - shipped == {"Linekeeper"}


def test_the_parts_inside_pyscript_are_those_of_its_source_maps(site: Path) -> None:
    inside = set()
    for path in names.files_of(site):
        if names.plain(path.relative_to(site).as_posix()).startswith("runtime/pyscript/") and path.name != "core.js":
            for source in json.loads((DIST / f"{path.name}.map").read_text(encoding="utf-8"))["sources"]:
                found = re.search(r"node_modules/((?:.+/node_modules/)?(?:@[^/]+/)?[^/]+)", source)
                inside |= {found[1]} if found else set()
    assert inside == set(licences.INSIDE_PYSCRIPT)


def test_the_parts_inside_the_band_are_those_that_the_bundler_took() -> None:
    command: list[str | Path] = [toolchain.node(), "--input-type=module", "--eval", INSIDE, bundle.APP / "band.js"]
    done = subprocess.run(command, capture_output=True, cwd=bundle.ROOT, check=True, text=True)
    assert set(json.loads(done.stdout)) == {"tone", *licences.INSIDE_BAND}


@pytest.mark.parametrize("part", licences.parts(), ids=lambda part: part.name)
def test_every_text_is_whole(part: licences.Part) -> None:
    assert part.licence
    assert "{" not in part.text
    assert len(part.text) > 150
    wanted = WORDS.get(part.licence.split("-")[0].split(" ")[0], "")
    assert wanted.lower() in part.text.lower()


def test_the_page_shows_them_all_and_about_leads_there(site: Path) -> None:
    page = unescape((site / "licences.html").read_text(encoding="utf-8"))
    for part in licences.parts():
        assert part.name in page
        assert part.text.strip() in page
    assert 'href="licences.html"' in (site / "about.html").read_text(encoding="utf-8")


def test_the_one_text_has_every_licence_once() -> None:
    text = licences.texts()
    for part in licences.parts():
        assert text.count(part.text) == 1
        assert part.name in text
