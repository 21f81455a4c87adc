"""Settings of all tests: property tests draw the same cases every time, so that a red run can be repeated."""

from hypothesis import settings

settings.register_profile("same cases", derandomize=True)
settings.load_profile("same cases")
