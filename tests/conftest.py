"""Settings of all tests: property tests draw the same cases every time, so that a red run can be
repeated, and none fails for a slow machine."""

from hypothesis import settings

settings.register_profile("same cases", derandomize=True, deadline=None)
settings.load_profile("same cases")
