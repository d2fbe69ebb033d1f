"""What hosts are told to send: the policy that the other tests run under, types, and how long to keep what."""

import json
import re
from pathlib import Path

import names
import policy

ROOT = Path(__file__).resolve().parents[2]


def rules(site: Path) -> dict[str, dict[str, str]]:
    """The site's `_headers`: for each address what is sent with it."""
    found: dict[str, dict[str, str]] = {}
    for text in (site / "_headers").read_text(encoding="utf-8").splitlines():
        if text.startswith("/"):
            found[text] = {}
        elif text:
            name, value = text.strip().split(": ", 1)
            found[list(found)[-1]][name] = value
    return found


def sent(site: Path, path: str) -> dict[str, list[str]]:
    """What such a host sends with a file; every rule that fits has its say."""
    said: dict[str, list[str]] = {}
    for pattern, headers in rules(site).items():
        if pattern == f"/{path}" or (pattern.endswith("*") and f"/{path}".startswith(pattern[:-1])):
            for name, value in headers.items():
                said.setdefault(name, []).append(value)
    return said


def test_every_file_comes_with_the_policy_and_the_hashed_ones_for_ever(site: Path) -> None:
    kept_for_ever = set()
    for file in names.files_of(site):
        path = file.relative_to(site).as_posix()
        headers = sent(site, path)
        assert headers["Content-Security-Policy"] == [policy.POLICY]
        assert all(len(values) == 1 for values in headers.values()), f"two rules speak of one thing: {path}"
        if "immutable" in headers.get("Cache-Control", [""])[0]:
            kept_for_ever.add(path)
    assert kept_for_ever == {
        path.relative_to(site).as_posix() for folder in names.folders(site) for path in names.files_of(folder)
    }
    assert {path.split("/")[0].split("-")[0] for path in kept_for_ever} == {"app", "runtime"}
    assert sent(site, "sw.js")["Cache-Control"] == ["no-cache"]


def test_apache_is_told_the_same(site: Path) -> None:
    text = (site / ".htaccess").read_text(encoding="utf-8")
    for name, value in {"Content-Security-Policy": policy.POLICY, **policy.ALWAYS}.items():
        assert f'Header always set {name} "{value}"' in text
    found = re.search(r"=~ m#(.*)#\"", text)
    assert found
    for file in names.files_of(site):
        path = f"/some/folder/{file.relative_to(site).as_posix()}"
        assert bool(re.search(found[1], path)) == (file.parent != site and "-" in path.split("/")[3]), path


def test_the_readme_tells_the_same() -> None:
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    assert text.count(policy.POLICY) == 2  # nginx, Caddy
    for value in (*policy.ALWAYS.values(), policy.FOR_EVER, policy.ASK_FIRST):
        assert text.count(value) >= 2, value


def test_every_page_brings_a_policy_of_its_own(site: Path) -> None:
    for page in site.rglob("*.html"):
        text = page.read_text(encoding="utf-8")
        meta = f'<meta http-equiv="Content-Security-Policy" content="{policy.IN_PAGE.replace(chr(39), "&#39;")}">'
        assert meta in text or policy.IN_PAGE in text
        assert text.index("Content-Security-Policy") < text.index("<script"), "what comes before it is not held to it"


def test_nothing_but_what_is_needed_is_allowed() -> None:
    """Whoever lets the policy go wider changes this list too, and DEVELOPERS.md, which says why."""
    allowed = {part.split()[0]: set(part.split()[1:]) for part in policy.POLICY.split("; ")}
    assert allowed == {
        "default-src": {"'self'"},
        "script-src": {"'self'", "'unsafe-eval'", "'wasm-unsafe-eval'", "blob:"},
        "worker-src": {"'self'", "blob:"},
        "style-src": {"'self'"},
        "img-src": {"'self'", "data:"},
        "font-src": {"'self'", "data:"},
        "object-src": {"'none'"},
        "base-uri": {"'none'"},
        "form-action": {"'none'"},
    }
    in_page = {part.split()[0]: set(part.split()[1:]) for part in policy.IN_PAGE.split("; ")}
    assert in_page.keys() == allowed.keys()
    for name, sources in in_page.items():
        assert allowed[name] <= sources <= allowed[name] | {"file:", "data:"}, name


# --- the app ---------------------------------------------------------------------------------------------


def test_the_manifest_names_what_is_there_and_fits_any_folder(site: Path) -> None:
    manifest = json.loads((site / "manifest.webmanifest").read_text(encoding="utf-8"))
    addresses = [manifest["start_url"], *(part["url"] for part in manifest["shortcuts"])]
    addresses += [icon["src"] for icon in manifest["icons"]]
    for address in addresses:
        assert (site / address).is_file(), address
    assert manifest["scope"] == "./"
    assert manifest["display"] == "standalone"
    assert {icon["sizes"] for icon in manifest["icons"]} >= {"192x192", "512x512"}
    assert "maskable" in {icon.get("purpose") for icon in manifest["icons"]}
    page = (site / "index.html").read_text(encoding="utf-8")
    assert f'<meta name="theme-color" content="{manifest["theme_color"]}"' in page


def test_icons_have_their_sizes(site: Path) -> None:
    for name, size in (("icon-192", 192), ("icon-512", 512), ("maskable-512", 512), ("touch-180", 180)):
        head = (site / "icons" / f"{name}.png").read_bytes()[:24]
        assert head[:8] == b"\x89PNG\r\n\x1a\n"
        assert (int.from_bytes(head[16:20]), int.from_bytes(head[20:24])) == (size, size)
