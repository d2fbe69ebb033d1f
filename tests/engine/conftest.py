"""Settings of the engine's tests."""

import gc

from hypothesis import settings

# A busy machine is no fault of the engine.
settings.register_profile("engine", deadline=None)
settings.load_profile("engine")

# What the engine keeps for later grows with the tests; to walk through all of it again and again takes a tenth of them.
gc.set_threshold(700, 10, 1000)
