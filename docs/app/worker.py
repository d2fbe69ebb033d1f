"""What runs in PyScript's worker: it hands the engine to the page."""

import random

from pyscript import sync

from engine import browser

# A start from a memory snapshot would otherwise repeat the draws of the day it was made.
random.seed()

sync.call = browser.call
sync.build = lambda: "@build@"
