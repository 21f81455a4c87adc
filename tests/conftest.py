"""Settings of all tests: property tests draw the same cases every time, so that a red run can be
repeated, and none fails for a slow machine."""

import gc

import pytest
from hypothesis import settings

settings.register_profile("same cases", derandomize=True, deadline=None)
settings.load_profile("same cases")

gc.set_threshold(
    20_000, 20, 20
)  # tables and figures make many objects: looking for dead rings took a twentieth of the time

LONGEST = ("test_guide_commands.py", "test_whole_runs.py")
"""Files with a test or fixture of more than a minute: begun first, no worker is left alone with them at the end."""


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    items.sort(key=lambda item: item.path.name not in LONGEST)
