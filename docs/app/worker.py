"""What runs in PyScript's worker: it hands the engine to the page."""

import random
from pathlib import Path

from pyscript import sync

from engine import browser

# A start from a memory snapshot would otherwise repeat the draws of the day it was made.
random.seed()

sync.call = browser.call
sync.build = lambda: "@build@"

PACKS = Path("/packs")


def pack(name, data):
    """Make the modules of a pack importable: ``data`` are the bytes of its zip, from the page."""
    PACKS.mkdir(exist_ok=True)
    place = PACKS / f"{name}.zip"
    place.write_bytes(data.to_bytes())
    browser.open_pack(str(place))


sync.pack = pack
