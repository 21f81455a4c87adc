"""Every command that writes, run twice under unlike surroundings: the same bytes; killed between any two moves: all old or all new."""

import hashlib
import json
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

HERE = Path(__file__).parent
WRITERS = {"bed", "rows", "layout", "water", "stakes", "plots", "season", "report", "portfolio", "compare"}
"""Commands that write more than one file; a map or a survey is one."""

SURROUNDINGS = {
    "LC_ALL": "POSIX",
    "LANG": "tr_TR.UTF-8",
    "LANGUAGE": "de",
    "PYTHONUTF8": "0",
    "PYTHONCOERCECLOCALE": "0",
    "PYTHONHASHSEED": "12345",
    "TZ": "Pacific/Kiritimati",
    "SOURCE_DATE_EPOCH": "86400",
    "COLUMNS": "40",
    "HOME": "/nowhere",
    "USER": "somebody",
}


def run(folder: Path, *options: str, **env: str) -> list:
    paths = os.pathsep.join([str(HERE.parent), str(HERE)])
    done = subprocess.run(
        [sys.executable, str(HERE / "whole_run.py"), str(folder), *options],
        env=os.environ | {"PYTHONPATH": paths} | env, capture_output=True, text=True, check=False, umask=0o077 if env else 0o022,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr[-3000:]
    return json.loads(done.stdout.splitlines()[-1])


@pytest.fixture(scope="module")
def runs(tmp_path_factory):
    """Two folders with all results, and what the kills left."""
    one, two = (
        tmp_path_factory.mktemp("here") / "farm",
        tmp_path_factory.mktemp("elsewhere") / "a" / "b c" / "farm",
    )
    seen = run(one, "--kill", PYTHONHASHSEED="1", TZ="UTC")
    run(two, **SURROUNDINGS)
    return one, two, seen


def results(folder: Path) -> dict[str, Path]:
    files = [p for p in folder.rglob("*") if p.is_file() and ".geoagro" not in p.parts]
    return {str(p.relative_to(folder)): p for p in files}


def test_the_same_bytes_whatever_locale_zone_seed_folder_and_rights(runs):
    one, two = results(runs[0]), results(runs[1])
    assert set(one) == set(two)
    told = {Path(name).suffix for name in one}
    assert told >= {
        ".png",
        ".gpkg",
        ".csv",
        ".pdf",
        ".xlsx",
        ".ics",
        ".html",
        ".dxf",
        ".gpx",
        ".kml",
        ".json",
        ".geojson",
        ".tif",
    }
    unlike = [
        n for n in one if hashlib.sha256(one[n].read_bytes()).digest() != hashlib.sha256(two[n].read_bytes()).digest()
    ]
    assert not unlike


def test_no_result_tells_of_the_machine_or_of_the_hour(runs):
    for name, path in results(runs[1]).items():
        data = path.read_bytes()
        for secret in (str(runs[1]).encode(), b"/nowhere", b"somebody", str(HERE).encode()):
            assert secret not in data, (name, secret)
        if path.suffix in {".csv", ".json", ".geojson", ".gpx", ".kml", ".html", ".txt"}:
            assert not re.search(rb"20[23]\d-\d\d-\d\dT(?!00:00:00)\d\d:\d\d:\d\d", data), name


def test_a_kill_between_any_two_moves_of_any_command_leaves_all_old_or_all_new(runs):
    seen = runs[2]
    assert {command for command, *_ in seen} >= WRITERS
    for command in WRITERS:
        kills = [(count, left) for name, count, _, left in seen if name == command]
        most = max(count for count, _ in kills)
        assert most >= 2
        assert len(kills) > 3 * most  # before each move, and before what prepares them
        assert {left for _, left in kills} == {"old", "new"}, command
