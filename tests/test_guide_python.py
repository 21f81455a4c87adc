"""The worked example of the guide page on Python does what it shows."""

import doctest
from pathlib import Path

PAGE = Path(__file__).parents[1] / "geoagro" / "guide" / "python.md"


def test_the_worked_example_runs_as_printed(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    told = doctest.testfile(str(PAGE), module_relative=False)
    assert told.attempted > 15
    assert told.failed == 0
