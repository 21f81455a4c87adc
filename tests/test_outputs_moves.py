"""Results of several files are all old or all new, whatever stops the run."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
from filelock import FileLock

from geoagro.cli.main import main
from geoagro.errors import OutputError
from geoagro.outputs import moving
from geoagro.outputs.staging import WORK, check_folder, claimed, staged

NAMES = ["a.txt", "b.txt", "c.txt"]


def write(folder, text, names=NAMES):
    with staged(folder, list(names)) as new:
        for name in names:
            (new / name).write_text(text)


def texts(folder):
    return [(folder / name).read_text() if (folder / name).exists() else None for name in NAMES]


def test_a_kill_before_any_call_to_the_system_leaves_all_old_or_the_next_run_makes_all_new(tmp_path):
    script = Path(__file__).with_name("kill_moves.py")
    env = os.environ | {"PYTHONPATH": str(script.parents[1])}
    told = subprocess.run([sys.executable, str(script), str(tmp_path)], env=env, capture_output=True, check=True)
    seen = json.loads(told.stdout)
    assert len(seen) > 40
    assert {after_next for _, after_next, _ in seen} == {"old", "new"}
    assert sum(right_after == "mixed" for right_after, _, _ in seen) <= 6  # between the seven moves, until the next run
    assert {tuple(left) for *_, left in seen} == {("lock",)}


@pytest.mark.parametrize("at", [1, 2, 3])
@pytest.mark.parametrize("had", [True, False])
def test_a_move_that_is_refused_takes_all_of_them_back(tmp_path, monkeypatch, at, had):
    if had:
        write(tmp_path, "old")
    before, real, count = texts(tmp_path), os.replace, 0

    def refused(source, target):
        nonlocal count
        if Path(target).parent == tmp_path and Path(source).parent.name == moving.NEW:
            count += 1
            if count == at:
                raise PermissionError(13, "Permission denied", str(target))
        real(source, target)

    monkeypatch.setattr(moving.os, "replace", refused)
    with pytest.raises(OutputError, match=r"can't be replaced \(Permission denied\); the earlier result is back"):
        write(tmp_path, "new")
    assert texts(tmp_path) == before
    assert [p.name for p in (tmp_path / WORK).iterdir()] == ["lock"]


@pytest.mark.parametrize("at", [1, 2, 3])
def test_a_refused_move_brings_back_what_was_to_go(tmp_path, monkeypatch, at):
    write(tmp_path, "old")
    real, count = os.replace, 0

    def refused(source, target):
        nonlocal count
        if Path(source).parent.name == moving.NEW:
            count += 1
        if Path(source).parent.name == moving.NEW and count == at:
            raise PermissionError(13, "Permission denied", str(target))
        real(source, target)

    monkeypatch.setattr(moving.os, "replace", refused)
    with pytest.raises(OutputError, match="the earlier result is back"), staged(tmp_path, ["d.txt", "a.txt", "e.txt"], gone=["b.txt", "c.txt"]) as new:  # fmt: skip
        for name in ("d.txt", "a.txt", "e.txt"):
            (new / name).write_text("new")
    assert texts(tmp_path) == ["old"] * 3
    assert sorted(p.name for p in tmp_path.iterdir()) == [WORK, *NAMES]


def test_what_is_to_go_is_kept_where_it_is_read_only(tmp_path):
    write(tmp_path, "old")
    (tmp_path / "c.txt").chmod(0o444)
    with pytest.raises(OutputError, match=r"c\.txt is read-only"), staged(tmp_path, ["a.txt"], gone=["c.txt"]) as new:
        (new / "a.txt").write_text("new")
    assert texts(tmp_path) == ["old"] * 3


def test_a_run_that_is_interrupted_between_two_moves_finishes_them(tmp_path, monkeypatch):
    write(tmp_path, "old")
    real, count = os.replace, 0

    def interrupted(source, target):
        nonlocal count
        count += Path(target).parent == tmp_path
        if count == 2:
            count += 1
            raise KeyboardInterrupt
        real(source, target)

    monkeypatch.setattr(moving.os, "replace", interrupted)
    with pytest.raises(KeyboardInterrupt):
        write(tmp_path, "new")
    assert texts(tmp_path) == ["new"] * 3


def test_a_result_set_read_only_is_kept_and_told_before_the_work(tmp_path):
    write(tmp_path, "old")
    (tmp_path / "b.txt").chmod(0o444)
    for attempt in (lambda: check_folder(tmp_path, NAMES), lambda: write(tmp_path, "new")):
        with pytest.raises(OutputError, match=r"b\.txt is read-only"):
            attempt()
    assert texts(tmp_path) == ["old"] * 3


def test_a_folder_in_the_place_of_a_file_is_told(tmp_path):
    (tmp_path / "b.txt").mkdir()
    with pytest.raises(OutputError, match=r"b\.txt is a folder"):
        write(tmp_path, "new")
    assert (tmp_path / "b.txt").is_dir()


def test_links_in_the_work_folder_are_not_followed(tmp_path):
    mine = tmp_path / "mine"
    mine.mkdir()
    (mine / "precious.txt").write_text("keep")
    result = tmp_path / "result"
    (result / WORK).mkdir(parents=True)
    for name in ("new", "old", "lock", "journal.json"):
        (result / WORK / name).symlink_to(mine, target_is_directory=True)
    write(result, "new")
    assert (mine / "precious.txt").read_text() == "keep"
    assert texts(result) == ["new"] * 3
    other = tmp_path / "other"
    other.mkdir()
    (other / WORK).symlink_to(mine, target_is_directory=True)
    with pytest.raises(OutputError, match="is a link"):
        write(other, "new")


@pytest.mark.parametrize(
    "journal", ["", "{}", '{"names": ["../mine.txt"], "had": []}', "[1]", '{"names": 3, "had": 4}']
)
def test_a_journal_that_is_not_ours_is_thrown_away(tmp_path, journal):
    (tmp_path / "mine.txt").write_text("keep")
    result = tmp_path / "result"
    write(result, "old")
    (result / WORK / "journal.json").write_text(journal)
    write(result, "new")
    assert texts(result) == ["new"] * 3
    assert (tmp_path / "mine.txt").read_text() == "keep"


def test_a_second_run_is_refused_before_the_work(tmp_path, capsys):
    (tmp_path / "result" / WORK).mkdir(parents=True)
    (tmp_path / "design.yaml").write_text(
        "name: a\ninputs: {boundary: {file: no.gpkg}, elevation: {file: no.tif}}\noutput: {folder: result}\n"
    )
    for command in ("layout", "rows", "stakes", "report", "map", "sample-plots"):
        with FileLock(tmp_path / "result" / WORK / "lock"), pytest.raises(SystemExit) as stop:
            main([command, str(tmp_path / "design.yaml")])
        assert stop.value.code == 6
        assert "another run is writing here" in capsys.readouterr().err


def test_a_claimed_folder_may_be_written_to_and_goes_again_if_it_stays_empty(tmp_path):
    with claimed(tmp_path / "deep" / "result"):
        pass
    assert not (tmp_path / "deep" / "result").exists()
    with claimed(tmp_path / "result"):
        write(tmp_path / "result", "new")
    assert texts(tmp_path / "result") == ["new"] * 3


def test_a_disk_without_room_is_told_in_words(tmp_path):
    write(tmp_path, "old")
    told = pytest.raises(OutputError, match=r"can't be written \(\[Errno 28\] No space left.*untouched")
    with told, staged(tmp_path, NAMES) as new:
        (new / "a.txt").write_text("half")
        raise OSError(28, "No space left on device")
    assert texts(tmp_path) == ["old"] * 3


def test_files_on_the_way_lie_beside_the_result_and_not_in_the_system_s_folder():
    package = Path(moving.__file__).parent
    for path in package.rglob("*.py"):
        for line in path.read_text().splitlines():
            if not line.lstrip().startswith(">>>") and ("TemporaryDirectory(" in line or "mkdtemp(" in line):
                assert "dir=" in line, path
