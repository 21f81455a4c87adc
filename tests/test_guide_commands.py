"""What the README and the pages of the guide tell people to type works, in the order it is written.

All pages share one folder and its results: the README comes first, as for a newcomer."""

import os
import re
import shutil
import stat
import subprocess
import sys
from pathlib import Path

import geopandas as gpd
import pytest
from shapely import box

ROOT = Path(__file__).parents[1]
sys.path.insert(0, str(ROOT / "scripts"))

import make_demo_data  # noqa: E402

README = (ROOT / "README.md").read_text(encoding="utf-8")
PAGES = [ROOT / "README.md", *sorted((ROOT / "geoagro" / "guide").glob("*.md"))]
TESTED = re.compile(r"<!-- tested -->\n```(bash|python)\n(.*?)```", flags=re.DOTALL)
MAKES_ENVIRONMENT = ("scripts/demo", "scripts/test")


@pytest.fixture(scope="module")
def clone(tmp_path_factory):
    """A folder as a user has it after `scripts/demo`: demo data, and an environment where `geoagro` is found."""
    folder = tmp_path_factory.mktemp("clone")
    shutil.copytree(ROOT / "data_demo", folder / "data_demo")
    _cut_out_a_corner(folder / "data_demo" / "farm.gpkg")
    tools = folder / ".venv" / "bin"
    tools.mkdir(parents=True)
    _program(tools / "geoagro", f'exec "{sys.executable}" -m geoagro "$@"')
    _program(tools / "python", f'exec "{sys.executable}" "$@"')
    (tools / "activate").write_text(f'export PATH="{tools}:$PATH"\n')
    return folder


def _cut_out_a_corner(farm: Path) -> None:
    """Keep the part of the demo field around spring and track, so that the test is quick."""
    boundary = gpd.read_file(farm, layer="boundary")
    west, south = make_demo_data.WEST, make_demo_data.SOUTH
    boundary.geometry = boundary.intersection(box(west + 90, south + 80, west + 230, south + 150))
    boundary.to_file(farm, layer="boundary")


def _program(path: Path, line: str) -> None:
    path.write_text(f"#!/bin/sh\n{line}\n")
    path.chmod(path.stat().st_mode | stat.S_IXUSR)


def run(folder: Path, *command: str) -> subprocess.CompletedProcess:
    environment = os.environ | {"PYTHONPATH": str(ROOT), "PATH": f"{folder / '.venv' / 'bin'}:{os.environ['PATH']}"}
    return subprocess.run(command, cwd=folder, env=environment, capture_output=True, text=True, check=False)


def test_the_readme_holds_blocks_to_test():
    assert {kind for kind, _ in TESTED.findall(README)} == {"bash", "python"}


def test_the_readme_can_be_read_in_one_sitting_and_pages_have_titles():
    assert len(README.splitlines()) <= 200
    for page in PAGES[1:]:
        assert page.read_text(encoding="utf-8").startswith("# "), page.name


def test_tested_blocks_run_as_written(clone):
    """One test for all pages: they share results, and a worker of a parallel run must not take half of them."""
    for page in PAGES:
        for kind, text in TESTED.findall(page.read_text(encoding="utf-8")):
            command = ("bash", "-e", "-c", text) if kind == "bash" else ("python", "-W", "error", "-c", text)
            done = run(clone, *command)
            assert done.returncode == 0, f"{page.name}: {text}\n{done.stdout}\n{done.stderr}"
    assert (clone / "demo_result" / "layout.gpkg").exists()
    assert (clone / "demo_result" / "layout.png").exists()
    assert (clone / "myfield" / "design.yaml").exists()


def test_the_first_two_commands_are_the_demo_and_the_tests():
    lines = re.search(r"```bash\n(.*?)```", README, flags=re.DOTALL)[1].splitlines()
    assert tuple(lines[:2]) == MAKES_ENVIRONMENT


@pytest.mark.parametrize("script", MAKES_ENVIRONMENT)
def test_the_scripts_make_an_environment_and_do_what_is_said(script):
    path = ROOT / script
    text = path.read_text()
    assert os.access(path, os.X_OK)
    assert subprocess.run(["bash", "-n", path], check=False).returncode == 0
    assert "python3 -m venv .venv" in text
    assert "pip install" in text
    said = {
        "scripts/demo": ["geoagro layout data_demo/design.yaml --output demo_result"],
        "scripts/test": ["ruff check", "mypy", "pytest"],
    }
    assert all(words in text for words in said[script])


def test_continuous_integration_runs_the_second_command():
    assert "tests) scripts/test ;;" in (ROOT / ".ci" / "run").read_text()
