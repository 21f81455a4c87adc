"""Every failure becomes words, an exit code by class, and data if asked for."""

import errno
import json
import subprocess
import sys

import click
import pytest
from input_files import design

from geoagro.cli.failures import CLOSED_PIPE, Problem, failure_of
from geoagro.cli.main import main
from geoagro.errors import CrsError, DesignError, InputError, LayoutError, OutputError
from geoagro.values.site import Finding


def ended(*arguments):
    with pytest.raises(SystemExit) as stop:
        main(arguments)
    return stop.value.code


@pytest.mark.parametrize(
    ("error", "kind", "code"),
    [
        (click.UsageError("no such option"), "usage", 2),
        (DesignError("d.yaml:3: rows: unknown key"), "design", 3),
        (InputError("inputs.boundary (f.gpkg): is empty."), "input", 4),
        (CrsError("inputs.boundary (f.gpkg): states no CRS."), "input", 4),
        (LayoutError("no ground is left."), "ground", 5),
        (OutputError("result: can't write here."), "output", 6),
        (OSError(errno.ENOSPC, "No space left on device", "result/layout.gpkg"), "output", 6),
        (OSError(errno.EFBIG, "File too large"), "output", 6),
        (RuntimeError("sqlite3_exec failed: database or disk is full"), "output", 6),
        (PermissionError(errno.EACCES, "Permission denied", "result"), "output", 6),
        (FileNotFoundError(errno.ENOENT, "No such file", "field.gpkg"), "input", 4),
        (OSError(errno.ENAMETOOLONG, "File name too long", "n" * 300), "input", 4),
        (MemoryError("Unable to allocate 8 GiB"), "memory", 7),
        (RuntimeError("std::bad_alloc"), "memory", 7),
        (OSError(errno.ENOMEM, "Cannot allocate memory"), "memory", 7),
        (click.exceptions.Abort(), "interrupted", 130),
        (KeyError("row"), "own mistake", 70),
        (ZeroDivisionError("division by zero"), "own mistake", 70),
    ],
)
def test_every_kind_of_failure_has_its_code_a_cause_and_a_remedy(error, kind, code):
    failure = failure_of(error, arguments=["layout", "design.yaml"])
    assert (failure.kind, failure.exit_code) == (kind, code)
    for problem in failure.problems:
        assert problem.cause
        assert problem.remedy or kind == "own mistake"
        assert "\n" not in problem.text
        assert len(problem.text) < 700


def test_a_mistake_of_the_program_says_where_and_how_to_report_it():
    try:
        Problem.told(None, "input")  # type: ignore[arg-type]
    except TypeError as error:
        words = failure_of(error, arguments=["check", "d.yaml"]).words()
    assert "geoagro/cli/failures.py:" in words
    assert "Please report it" in words
    assert "geoagro check d.yaml --debug" in words


@pytest.mark.parametrize(
    ("text", "file", "line", "place"),
    [
        ("design.yaml:9: rows.spacing_m: must be above 0 (got 0).", "design.yaml", 9, "rows.spacing_m"),
        ("inputs.exclusions[2] (well.gpkg): holds no geometry.", "well.gpkg", None, "inputs.exclusions[2]"),
        ("inputs.boundary.file: no.gpkg isn't there.", "no.gpkg", None, "inputs.boundary.file"),
        ("result/layout.gpkg: there is no layout yet.", "result/layout.gpkg", None, None),
        ("--crs: isn't known.", None, None, "--crs"),
        ("rows.method: contour needs heights.", None, None, "rows.method"),
        ("no ground is left.", None, None, None),
    ],
)
def test_file_line_and_place_are_told_apart(text, file, line, place):
    problem = Problem.told(text, "input")
    assert (problem.file, problem.line, problem.place) == (file, line, place)


def test_data_is_one_line_at_the_end(tmp_path, capsys):
    (tmp_path / "design.yaml").write_text("nam: a\nrows: {spacing_m: 0}\n")
    assert ended("check", str(tmp_path / "design.yaml"), "--json") == 3
    told = json.loads(capsys.readouterr().err.splitlines()[-1])["error"]
    assert told["class"] == "design"
    assert told["exit_code"] == 3
    assert [(p["place"], p["line"]) for p in told["problems"]][-1] == ("rows.spacing_m", 2)
    assert all(p["file"] == "design.yaml" for p in told["problems"])


def test_a_traceback_is_shown_only_when_asked_for(tmp_path, capsys):
    assert ended("check", str(tmp_path / "no.yaml")) == 4
    assert "Traceback" not in capsys.readouterr().err
    assert ended("check", "--debug", str(tmp_path / "no.yaml")) == 4
    assert "Traceback" in capsys.readouterr().err


def test_usage_is_told_in_one_line_too(capsys):
    assert ended("check", "--json") == 2
    assert json.loads(capsys.readouterr().err)["error"]["class"] == "usage"
    assert ended("chek") == 2
    assert capsys.readouterr().err.startswith("geoagro: No such command 'chek'")


def test_control_characters_never_reach_a_terminal():
    told = failure_of(InputError("field\x1b[31m.gpkg: holds nothing\x07.\r Name another."))
    assert told.words() == "field\\x1b[31m.gpkg: holds nothing\\x07.\\r Name another."
    found = Finding("warning", "a\x9b.gpkg", "layer 'b\x00' is empty")
    assert (found.where, found.text) == ("a\\x9b.gpkg", "layer 'b\\x00' is empty")


def started(*arguments, streams):
    """Run the program by a shell that closes or pipes its standard streams; gives the exit code."""
    called = " ".join([f'"{sys.executable}" -m geoagro', *arguments, streams])
    return subprocess.run(["bash", "-c", f"set -o pipefail; {called}"], capture_output=True, check=False).returncode


@pytest.mark.parametrize("streams", ["<&-", ">&-", "2>&-", "<&- >&- 2>&-"])
def test_a_command_works_without_standard_streams(tmp_path, streams):
    design(tmp_path)
    (tmp_path / "design.yaml").write_text(
        "name: invented\ninputs: {boundary: {file: field.gpkg}, elevation: {file: dem.tif}}\n"
        "rows: {method: straight, bearing_deg: 90}\n"
    )
    assert started("rows", str(tmp_path / "design.yaml"), streams=streams) == 0
    assert (tmp_path / "result" / "rows.gpkg").exists()


@pytest.mark.parametrize("command", ["crops", "--help", "--json crops"])
def test_a_reader_that_went_away_has_an_exit_code_of_its_own(command):
    assert started(command, streams="| true") == CLOSED_PIPE
