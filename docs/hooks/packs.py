"""Packs: packages that only some pages need, each a zip of its own that the engine loads when it is first wanted.

They come from the build's own environment, so the versions are those of its lock file.
"""

import importlib.metadata
import io
import zipfile
from pathlib import Path
from typing import Any

# For each package the modules that the engine uses, told where it does: segno in engine/view/qr.py. Its other
# modules write files, and would pull a quarter of Python's library into the browser.
PACKS = {"segno": ("encoder.py", "consts.py")}
# Zip files cannot be older; one fixed date keeps two builds alike.
DATE = (1980, 1, 1, 0, 0, 0)


def on_post_build(config: dict[str, Any], **_: object) -> None:
    """MkDocs calls this when the pages are written."""
    folder = Path(config["site_dir"]) / "runtime" / "packs"
    folder.mkdir(parents=True)
    for name in PACKS:
        (folder / f"{name}.zip").write_bytes(pack(name))


def pack(name: str) -> bytes:
    """The wanted modules of an installed package and its licence, as a zip that Python imports from."""
    wanted = {
        file.as_posix(): Path(str(file.locate()))
        for file in importlib.metadata.files(name) or []
        if file.name in PACKS[name] or "licenses" in file.parts
    }
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED, compresslevel=9) as made:
        for inside, path in sorted(wanted.items()):
            made.writestr(zipfile.ZipInfo(inside, DATE), path.read_bytes(), zipfile.ZIP_DEFLATED, 9)
    return out.getvalue()
