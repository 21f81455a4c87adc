import os
import subprocess
import sys
from pathlib import Path

import pytest
from filelock import FileLock
from outputs_builders import small_layout

from geoagro.errors import OutputError
from geoagro.outputs.layout.files import check_result_folder, write_layout
from geoagro.outputs.staging import WORK, staged

WRITE_AND_DIE = """
import os, signal, sys
from pathlib import Path
import geoagro.outputs.staging as staging
from geoagro.outputs.layout.files import write_layout
from outputs_builders import small_layout

folder, moment = Path(sys.argv[1]), sys.argv[2]
die = lambda *_: os.kill(os.getpid(), signal.SIGKILL)
if moment == "moving":
    staging.move_all = die
write_layout(small_layout(30), folder, progress=lambda what, share: die() if what.startswith(moment) and share > 0.2 else None)
"""


def contents(folder: Path) -> dict[str, bytes]:
    return {p.name: p.read_bytes() for p in folder.iterdir() if p.is_file()}


@pytest.mark.parametrize("moment", ["writing", "moving"])
def test_a_killed_run_leaves_the_earlier_result_whole_and_the_next_run_clears_up(tmp_path, moment):
    write_layout(small_layout(20), tmp_path)
    before = contents(tmp_path)
    paths = os.pathsep.join(sys.path)
    killed = subprocess.run(
        [sys.executable, "-c", WRITE_AND_DIE, str(tmp_path), moment],
        env=os.environ | {"PYTHONPATH": paths},
        check=False,
    )
    assert killed.returncode == -9
    assert (tmp_path / WORK / "new").exists()
    assert contents(tmp_path) == before
    write_layout(small_layout(20), tmp_path)
    assert [p.name for p in (tmp_path / WORK).iterdir()] == ["lock"]
    assert contents(tmp_path) == before


def test_a_failed_run_leaves_the_earlier_result_and_nothing_beside_it(tmp_path):
    (tmp_path / "a.txt").write_text("old")
    with pytest.raises(ZeroDivisionError), staged(tmp_path, ["a.txt"]) as new:
        (new / "a.txt").write_text("half")
        raise ZeroDivisionError
    assert contents(tmp_path) == {"a.txt": b"old"}
    assert [p.name for p in (tmp_path / WORK).iterdir()] == ["lock"]


def test_a_file_that_was_promised_but_not_written_fails_the_run(tmp_path):
    (tmp_path / "a.txt").write_text("old")
    with pytest.raises(OutputError, match=r"b\.txt was not written"), staged(tmp_path, ["a.txt", "b.txt"]) as new:
        (new / "a.txt").write_text("new")
    assert contents(tmp_path) == {"a.txt": b"old"}


@pytest.mark.parametrize("side", ["-wal", "-shm", "-journal"])
def test_a_result_that_is_open_elsewhere_is_not_replaced(tmp_path, side):
    (tmp_path / "layout.gpkg").write_bytes(b"old")
    (tmp_path / f"layout.gpkg{side}").write_bytes(b"")
    for attempt in (check_result_folder, lambda folder: write_layout(small_layout(20), folder)):
        with pytest.raises(OutputError, match=r"layout\.gpkg is open in another program.*Close it"):
            attempt(tmp_path)
    assert (tmp_path / "layout.gpkg").read_bytes() == b"old"


def test_two_runs_into_one_folder_are_kept_apart(tmp_path):
    (tmp_path / WORK).mkdir()
    with FileLock(tmp_path / WORK / "lock"), pytest.raises(OutputError, match="another run is writing here"):
        write_layout(small_layout(20), tmp_path)


def test_a_file_in_place_of_the_folder_is_told_before_any_work(tmp_path):
    (tmp_path / "result").write_text("mine")
    for attempt in (check_result_folder, lambda folder: write_layout(small_layout(20), folder)):
        with pytest.raises(OutputError, match="result"):
            attempt(tmp_path / "result")
    assert (tmp_path / "result").read_text() == "mine"


def test_asking_first_touches_nothing(tmp_path):
    check_result_folder(tmp_path / "deep" / "result")
    assert list(tmp_path.iterdir()) == []
