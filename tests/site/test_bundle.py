"""The client reaches the pages as one classic script, however they are opened."""

import re
from pathlib import Path

import bundle
import names
import pytest
from mkdocs.exceptions import PluginError


def test_two_bundles_are_alike() -> None:
    assert bundle.bundle() == bundle.bundle()


def test_no_page_loads_a_module(site: Path) -> None:
    pages = [path.read_text(encoding="utf-8") for path in site.rglob("*.html")]
    assert len(pages) > 5
    for page in pages:
        assert 'type="module"' not in page
        assert len(re.findall(r"<script defer src=", page)) == 1


def test_the_sources_stay_out_of_the_site(site: Path) -> None:
    scripts = {path.name for path in names.published(site, "app/boot.js").parent.glob("*js")}
    assert scripts == {"boot.js", "client.js", "engraver.js", "band.js"}


def test_a_fault_in_the_client_fails_the_build_and_is_told(tmp_path: Path) -> None:
    entry = tmp_path / "entry.js"
    entry.write_text('import "./no-such-part.js";\n')
    with pytest.raises(PluginError, match=r"no-such-part\.js"):
        bundle.bundle(entry)


def test_the_bundle_exports_what_its_entry_exports(tmp_path: Path) -> None:
    entry = tmp_path / "entry.js"
    entry.write_text('import { sign } from "./sign.js";\nexport const shown = sign;\n')
    (tmp_path / "sign.js").write_text('export const sign = "♭";\n')
    text = bundle.bundle(entry).decode()
    assert "var linekeeper=" in text
    assert "♭" in text
    assert "import" not in text
