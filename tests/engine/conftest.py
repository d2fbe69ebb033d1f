"""Settings of the engine's tests."""

from hypothesis import settings

# A busy machine is no fault of the engine.
settings.register_profile("engine", deadline=None)
settings.load_profile("engine")
