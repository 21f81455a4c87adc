"""Every command has the same habits: -h, --quiet, --json, the design as DESIGN, the folder as --output in one wording."""

import importlib
import json

import click
import pytest
from click.testing import CliRunner

from geoagro.cli.habits.arguments import FOLDER, LAID
from geoagro.cli.main import COMMANDS, group

LOADED = {name: group.get_command(click.Context(group), name) for name in COMMANDS}


def run(*words):
    return CliRunner().invoke(group, [str(word) for word in words], standalone_mode=False)


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_can_be_quiet_or_speak_json(name):
    options = {flag for param in LOADED[name].params for flag in param.opts}
    assert {"--quiet", "-q", "--json", "--debug"} <= options
    helped = run(name, "-h")
    assert helped.exit_code == 0
    assert LOADED[name].help


FOR_PROGRAMS_OR_IN_ENGLISH = {"schema", "guide"}


@pytest.mark.parametrize("name", [name for name in COMMANDS if name not in FOR_PROGRAMS_OR_IN_ENGLISH])
def test_every_command_that_writes_for_people_takes_a_language(name):
    (locale,) = [param for param in LOADED[name].params if "--locale" in param.opts]
    assert locale.help


@pytest.mark.parametrize("name", COMMANDS)
def test_nothing_is_coloured_whatever_the_terminal_and_no_color_say(name, monkeypatch):
    told = []
    for no_color in ("", "1"):
        monkeypatch.setenv("NO_COLOR", no_color)
        told.append(CliRunner().invoke(group, [name, "-h"], color=True, standalone_mode=False).output)
    assert told[0] == told[1] and "\x1b" not in told[0]


@pytest.mark.parametrize("name", COMMANDS)
def test_a_design_is_called_design_and_a_folder_for_results_output(name):
    for param in LOADED[name].params:
        if isinstance(param, click.Argument) and param.name.startswith("design"):
            assert param.metavar in ("DESIGN", "DESIGN...")
        if isinstance(param, click.Option) and "--output" in param.opts:
            assert "-o" in param.opts
            folder = param.help in (FOLDER, LAID) or param.help.startswith(
                ("Folder for the result; ", "Folder that holds the layout; ")
            )
            assert folder or name == "schema"  # there it is a file
    assert "DESIGN_FILE" not in (importlib.import_module(f"geoagro.cli.{COMMANDS[name][0]}").command.help or "")


def test_json_is_one_line_with_files_figures_findings_and_words(tmp_path):
    done = run("new", tmp_path / "field", "--json")
    (line,) = done.stdout.splitlines()
    told = json.loads(line)
    assert told["command"] == "new"
    assert told["files"] == [str(tmp_path / "field" / "design.yaml")]
    assert {"figures", "findings"} <= set(told)
    assert told["words"].startswith("wrote ")


def test_json_may_stand_before_the_command_too(tmp_path):
    assert json.loads(run("--json", "crops").stdout)["command"] == "crops"


def test_one_run_tells_nothing_of_the_one_before(tmp_path):
    run("new", tmp_path / "a", "--json")
    assert json.loads(run("guide", "--json").stdout)["files"] == []


def test_quiet_says_nothing_where_nothing_is_wrong(tmp_path):
    done = run("new", tmp_path / "field", "--quiet")
    assert (done.exit_code, done.stdout, done.stderr) == (0, "", "")
    assert (tmp_path / "field" / "design.yaml").is_file()


def test_the_old_name_of_the_portfolios_folder_is_told(tmp_path):
    with pytest.raises(click.UsageError, match="--into is now --output"):
        group(["portfolio", "design.yaml", "--into", str(tmp_path)], standalone_mode=False)
