"""Every command that writes: the same bytes under unlike surroundings; killed between any two moves, without room on the disk
or under a limit for files, all old or all new.
"""

import contextlib
import hashlib
import json
import os
import re
import resource
import shutil
import subprocess
import sys
from collections import Counter
from pathlib import Path

import named_values
import pikepdf
import pytest
from test_odd_designs import failed
from test_outputs_tagged_pages import elements
from whole_run import COMMANDS

from geoagro.outputs.staging import WORK

HERE = Path(__file__).parent
WRITERS = {
    "beds",
    "rows",
    "layout",
    "water",
    "stakes",
    "sample-plots",
    "season",
    "report",
    "portfolio",
    "compare",
    "export",
}
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


def started(folder: Path, *options: str, umask: int, **env: str) -> subprocess.Popen:
    paths = os.pathsep.join([str(HERE.parent), str(HERE)])
    return subprocess.Popen(
        [sys.executable, str(HERE / "whole_run.py"), str(folder), *options],
        env=os.environ | {"PYTHONPATH": paths} | env, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, umask=umask,
    )  # fmt: skip


def ended(run: subprocess.Popen) -> dict[str, list]:
    told, errors = run.communicate()
    assert run.returncode == 0, errors[-3000:]
    return json.loads(told.splitlines()[-1])


@pytest.fixture(scope="module")
def runs(tmp_path_factory):
    """Two folders with all results, what the kills left, and what the commands said to programs in the second."""
    one, two = (
        tmp_path_factory.mktemp("here") / "farm",
        tmp_path_factory.mktemp("elsewhere") / "a" / "b c" / "farm",
    )
    both = (
        started(one, "--kill", umask=0o022, PYTHONHASHSEED="1", TZ="UTC"),
        started(two, "--json", umask=0o077, **SURROUNDINGS),
    )
    killed, spoken = [ended(run) for run in both]
    return one, two, killed["kills"], spoken["told"]


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


WITHOUT_FIGURES = ("map", "export")
WITHOUT_FILES = ("check",)


@pytest.mark.parametrize("at", range(len(COMMANDS)), ids=[" ".join(words) for words in COMMANDS])
def test_every_command_of_a_field_tells_programs_its_files_figures_and_findings(runs, at):
    command = COMMANDS[at][0]
    (line,) = runs[3][at].splitlines()
    told = json.loads(line)
    assert told["command"] == command
    assert bool(told["files"]) == (command not in WITHOUT_FILES)
    assert all((runs[1] / file).exists() for file in told["files"])
    assert bool(told["figures"]) == (command not in WITHOUT_FIGURES)
    assert all({"key", "value", "unit"} <= set(figure) for figure in told["figures"])
    assert all(set(finding) == {"severity", "about", "text"} and finding["text"] for finding in told["findings"])
    assert told["words"]


NAMELESS = {
    "Findings", "account_findings", "layout_findings", "report_findings.csv", "season_findings", "layout_seal", "survey_about",
    "contours", "index_contours", "export/contours.geojson", "export/unplanted.geojson", "unplanted", "unplanted_0",
    "procedure", "receivers", "stakes/stakes_easting_first.csv", "stakes/stakes_northing_first.csv", "stakes/tape_offsets.csv",
    "tape_offsets", "water_findings", "soil_loss", "slope_classes", "water_criteria", "comparison/options.csv",
}  # fmt: skip
"""Tables whose lines have no name of their own (sentences, polygons), or none at all (point lists without a heading)."""


def test_equal_names_hold_equal_values_in_every_file_of_a_run(runs):
    """To the decimals of the file that shows fewer: layout, report, map, plots, stakes, surveys, season and exports."""
    told, figures, nameless = named_values.differences(runs[0] / "result")
    assert told == []
    assert nameless <= NAMELESS
    shared = [{figure.file for figure in same} for same in figures.values()]
    together = Counter(file for files in shared if len(files) > 1 for file in files)
    assert {"layout.gpkg", "report.gpkg", "report.json", "report.xlsx", "map.html", "field_parts.geojson"} <= set(
        together
    )
    assert {"season.gpkg", "season.xlsx", "season_days.xlsx", "stakes/stakes.gpkg", "stakes/stakes.csv"} <= set(
        together
    )
    assert {
        "report_areas.csv",
        "report_crops.csv",
        "report_rows.csv",
        "export/field.geojson",
        "plots/plots.csv",
    } <= set(together)
    assert sum(len(files) > 1 for files in shared) > 2_000


@pytest.mark.parametrize(
    ("file", "change", "told"),
    [
        ("report_areas.csv", (r"(?m)^(field,.*),520\.0,", r"\1,520.1,"), "area_m2 of {'item': 'field'}"),
        ("field_parts.geojson", (r'"trees": (\d+)', r'"trees": 1\1'), "trees of {'part': '01'}"),
        (
            "report.json",
            (r'"field_m2": \{\s*"value": 520\.0', '"field_m2": {"value": 520.2'),
            "area_m2 of {'item': 'field'}",
        ),
        ("map.html", (r'("key":"tree_beds".*?"area_m2":\[)(\d)', r"\g<1>9\2"), "area_m2 of {'bed': 'R001-T"),
    ],
)
def test_a_planted_difference_between_two_files_is_found(runs, tmp_path, file, change, told):
    shutil.copytree(runs[0] / "result", tmp_path / "result")
    path = tmp_path / "result" / file
    text = path.read_text(encoding="utf-8")
    changed = re.sub(*change, text, count=1)
    assert changed != text
    path.write_text(changed, encoding="utf-8")
    found, *_ = named_values.differences(tmp_path / "result")
    assert found and any(told in line and file in line for line in found)


def test_every_pdf_of_a_run_is_tagged_and_has_title_language_and_bookmarks(runs):
    files = [path for name, path in results(runs[0]).items() if name.endswith(".pdf")]
    assert {path.name for path in files} >= {
        "report.pdf",
        "season.pdf",
        "sheets.pdf",
        "procedure.pdf",
        "pocket_list.pdf",
        "portfolio.pdf",
    }
    for path in files:
        with pikepdf.open(path) as pdf:
            root = pdf.Root
            assert bool(root.MarkInfo.Marked) and str(root.Lang) == "en", path
            with pdf.open_metadata() as about:
                assert about.get("dc:title") or str(pdf.docinfo.get("/Title", "")), path
            with pdf.open_outline() as outline:
                assert [item.title for item in outline.root], path
            figures = [element for element in elements(root.StructTreeRoot) if element.S == "/Figure"]
            assert all(str(figure.get("/Alt", "")) for figure in figures), path
            assert all("/StructParents" in page.obj for page in pdf.pages), path


WRITING = [*[command for command in dict.fromkeys(COMMANDS) if command[0] != "check"], ("new", "another")]


def untouched(farm: Path, command: tuple[str, ...]) -> None:
    """Run a command that can't write; assert that it says so and that everything is as it was."""
    before = {name: path.read_bytes() for name, path in results(farm).items()}
    failure = failed(command)
    assert failure is not None, command
    assert failure.kind == "output", (command, failure.words())
    assert "untouched. Make room" in failure.words(), (command, failure.words())
    assert {name: path.read_bytes() for name, path in results(farm).items()} == before, command
    left = {path.name for work in farm.rglob(WORK) for path in work.iterdir()}
    assert left <= {"lock"}, (command, left)


def test_under_a_limit_for_files_every_command_keeps_what_stands_and_says_so(runs, tmp_path, monkeypatch, capsys):
    farm = tmp_path / "farm"
    shutil.copytree(runs[0], farm)
    monkeypatch.chdir(farm)
    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    for command in WRITING:
        resource.setrlimit(resource.RLIMIT_FSIZE, (200, before[1]))
        try:
            untouched(farm, command)
        finally:
            resource.setrlimit(resource.RLIMIT_FSIZE, before)


@contextlib.contextmanager
def small_disk(place: Path):
    """Mount a disk of 64 MB in memory; skip where that isn't allowed."""
    place.mkdir()
    asked = ["mount", "-t", "tmpfs", "-o", "size=64m", "tmpfs", str(place)]
    done = subprocess.run(asked, capture_output=True, text=True, check=False) if shutil.which("mount") else None
    if done is None or done.returncode != 0:
        pytest.skip(f"no disk of one's own may be mounted here ({done.stderr.strip() if done else 'no mount'})")
    try:
        yield place
    finally:
        subprocess.run(["umount", "-l", str(place)], check=False)


@pytest.mark.parametrize("spare", [0, 12_288])
def test_on_a_full_disk_commands_keep_what_stands_and_says_so(runs, tmp_path, monkeypatch, capsys, spare):
    with small_disk(tmp_path / "disk") as disk:
        farm = disk / "farm"
        shutil.copytree(runs[0], farm)
        with (disk / "filler").open("wb", buffering=0) as filler, contextlib.suppress(OSError):
            while True:
                filler.write(b"x" * 4096)
        os.truncate(disk / "filler", (disk / "filler").stat().st_size - spare)
        monkeypatch.chdir(farm)
        for command in [
            ("beds", "design.yaml"),
            ("layout", "design.yaml"),
            ("stakes", "design.yaml"),
            ("export", "design.yaml", "--format", "geojson", "--all"),
            ("export", "design.yaml", "--format", "shapefile", "--all"),
            ("new", "another"),
        ]:
            untouched(farm, command)
        monkeypatch.chdir(tmp_path)
