"""Finishes the built site, after every other hook: its names, its sizes, and what keeps it on a device."""

import gzip
import hashlib
import json
import zlib
from pathlib import Path
from typing import Any

import names
import policy

SOURCE = Path(__file__).resolve().parents[1] / "app" / "sw.js"
WORKER = "sw.js"
# What only hosts read, and what only a page that is opened from disk loads.
FOR_HOSTS = (policy.HEADERS, policy.HTACCESS, WORKER)
NOT_KEPT = (*FOR_HOSTS, "runtime/disk.js")
# What a device gives a site before it starts to drop files is little on some phones.
MOST_BYTES = 20_000_000
MEGABYTE = 1_000_000
# These are as small as they get.
PACKED = (".zip", ".woff2", ".png")

# In a page's text: how much is kept on a device, and how much of it goes over the line.
SIZE_MARK = "@size@"
TRANSFER_MARK = "@transfer@"


def on_page_context(context: dict[str, Any], *, config: dict[str, Any], **_: object) -> dict[str, Any]:
    """MkDocs' event: the policy for the head of a page."""
    context["policy"] = policy.asking(policy.IN_PAGE, config["extra"]["cdn"])
    return context


def on_post_build(config: dict[str, Any], **_: object) -> None:
    """MkDocs' event: everything is written."""
    site = Path(config["site_dir"])
    # MkDocs always writes one; without the site's address, which no build knows, it is empty.
    for name in ("sitemap.xml", "sitemap.xml.gz"):
        (site / name).unlink(missing_ok=True)
    finish(site, config["extra"]["cdn"])


def finish(site: Path, host: str = "") -> None:
    """Makes a written site whole: names, sizes, files for hosts, service worker.

    `host` is the public one that the interpreter comes from, if any.
    """
    tell_sizes(site)
    build = names.settle(site)
    policy.write(site, host)
    (site / WORKER).write_text(worker(build, kept(site)), encoding="utf-8")


def tell_sizes(site: Path) -> None:
    """Puts the sizes where pages speak of them."""
    contents = {path: path.read_bytes() for path in kept_files(site)}
    size = sum(kept_size(path) for path in contents)
    transfer = sum(len(data if path.suffix in PACKED else zlib.compress(data)) for path, data in contents.items())
    for page in site.rglob("*.html"):
        text = page.read_text(encoding="utf-8")
        for mark, value in ((SIZE_MARK, size), (TRANSFER_MARK, transfer)):
            text = text.replace(mark, f"{max(1, round(value / MEGABYTE))} MB")
        page.write_text(text, encoding="utf-8")


def kept_files(site: Path) -> list[Path]:
    """The files that a device keeps."""
    return [path for path in names.files_of(site) if names.plain(path.relative_to(site).as_posix()) not in NOT_KEPT]


def kept_size(path: Path) -> int:
    """How many bytes of a device a file takes: a page is kept packed (docs/app/sw.js)."""
    return len(gzip.compress(path.read_bytes())) if path.suffix == ".html" else path.stat().st_size


def kept(site: Path) -> dict[str, dict[str, str | int]]:
    """What a device keeps: each path with the hash and the size of its file."""
    entries: dict[str, dict[str, str | int]] = {}
    for path in kept_files(site):
        data = path.read_bytes()
        entries[path.relative_to(site).as_posix()] = {"hash": hashlib.sha256(data).hexdigest(), "size": len(data)}
    return entries


def worker(build: str, entries: dict[str, dict[str, str | int]]) -> str:
    """The service worker of a build. Its cache carries the build's id, and a hash of what is in it."""
    files = json.dumps(entries)
    version = f"{build} {hashlib.sha256(files.encode()).hexdigest()[: names.LENGTH]}"
    return SOURCE.read_text(encoding="utf-8").replace("@version@", version).replace("@files@", files)
