"""Too little memory and too small a disk: told in words and class, with what stood there before untouched."""

import json
import os
import resource
import subprocess
import sys
from pathlib import Path

import pytest
import whole_run
from test_odd_designs import failed

from geoagro.errors import MemoryShortError
from geoagro.pipeline import memory, sizes

MEGABYTE = 1_000_000


@pytest.fixture(scope="module")
def farm(tmp_path_factory):
    folder = tmp_path_factory.mktemp("limits") / "farm"
    whole_run.make(folder)
    return folder


def under(limit: int, value: int, *arguments: str, cwd: Path) -> subprocess.CompletedProcess:
    return subprocess.run(
        [sys.executable, "-m", "geoagro", *arguments], cwd=cwd, capture_output=True, text=True, check=False, timeout=120,
        env=os.environ | {"PYTHONPATH": str(Path(whole_run.__file__).parents[1])},
        preexec_fn=lambda: resource.setrlimit(limit, (value, value)),
    )  # fmt: skip


@pytest.mark.parametrize("megabytes", [300, 450, 650, 900, 1200, 1499])
@pytest.mark.parametrize("command", ["check", "layout", "season"])
def test_a_limit_below_what_the_libraries_need_is_told_before_they_load(farm, megabytes, command):
    (farm / "result").mkdir(exist_ok=True)
    (farm / "result" / "layout.gpkg").write_text("old")
    done = under(resource.RLIMIT_AS, megabytes * MEGABYTE, command, "design.yaml", "--json", cwd=farm)
    told = json.loads(done.stderr)["error"]
    assert (done.returncode, told["class"]) == (7, "memory")
    assert f"{megabytes / 1000:.2f} GB" in told["problems"][0]["cause"]
    assert "Raise the limit" in told["problems"][0]["remedy"]
    assert [p.name for p in (farm / "result").iterdir()] == ["layout.gpkg"]
    assert (farm / "result" / "layout.gpkg").read_text() == "old"


def test_help_and_guide_need_no_such_room(farm):
    assert under(resource.RLIMIT_AS, 300 * MEGABYTE, "guide", cwd=farm).returncode == 0


@pytest.mark.parametrize(
    "command", [("check", "design.yaml"), ("rows", "design.yaml", "-o", "r"), ("layout", "design.yaml", "-o", "r")]
)
def test_work_that_does_not_fit_is_refused_with_the_figure_before_it_begins(farm, monkeypatch, command):
    monkeypatch.chdir(farm)
    monkeypatch.setattr(sizes, "free_bytes", lambda: 50e6)
    failure = failed(command)
    assert failure.kind == "memory"
    assert "0.1 GB are free" in failure.words()
    assert "million cells" in failure.words()
    assert not (farm / "r").exists()


def test_free_memory_is_the_least_of_machine_limit_and_container(monkeypatch):
    monkeypatch.setattr(memory, "_of_machine", lambda: 8e9)
    monkeypatch.setattr(memory, "_of_limit", lambda: None)
    monkeypatch.setattr(memory, "_of_container", lambda most, used: 3e9)
    assert memory.free_bytes() == 3e9
    monkeypatch.setattr(memory, "_of_container", lambda most, used: None)
    assert memory.free_bytes() == 8e9
    monkeypatch.setattr(memory, "_limit", lambda: 1e9)
    with pytest.raises(MemoryShortError, match=r"1\.00 GB"):
        memory.refuse_little_memory()
