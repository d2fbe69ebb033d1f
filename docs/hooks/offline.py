"""Finishes the built site: its names, and later what keeps it on a device. It runs after every other hook."""

from pathlib import Path
from typing import Any

import names


def on_post_build(config: dict[str, Any], **_: object) -> None:
    """MkDocs' event: everything is written."""
    site = Path(config["site_dir"])
    # MkDocs always writes one; without the site's address, which no build knows, it is empty.
    for name in ("sitemap.xml", "sitemap.xml.gz"):
        (site / name).unlink(missing_ok=True)
    names.settle(site)
