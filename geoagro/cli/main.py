"""The `geoagro` command: each subcommand lives in its own file and is loaded only when it is called."""

from __future__ import annotations

import gc
import importlib
import io
import os
import signal
import sys
import threading
import traceback
import warnings
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from types import FrameType
from typing import Any, NoReturn

import click

from geoagro.cli.failures import CLOSED_PIPE, failure_of
from geoagro.cli.habits.told import habit_options, with_habits
from geoagro.errors import FindingWarning
from geoagro.pipeline.memory import refuse_little_memory
from geoagro.version import __version__

# command -> (module under geoagro.cli, one line of help); kept by hand so that --help needs no imports. A command is called
# by the noun of what it makes or prints; those that look at, weigh or pass on what is there are verbs
COMMANDS: dict[str, tuple[str, str]] = {
    "new": ("new", "Write a commented design file to start from."),
    "check": ("check", "Read a design and its files, and say what was found."),
    "beds": ("beds", "Draw each bed of the recipe to plant from, and say what to mind."),
    "rows": ("rows", "Lay tree rows only, and say what each limit costs."),
    "layout": ("layout", "Lay out the field and write the result."),
    "water": ("water", "Follow water over the ground and along the rows of a layout."),
    "watch": ("hand.watch", "Lay out again whenever the design or a file that it names is saved."),
    "verify": ("hand.verify", "Tell what was edited in a layout, and what no longer agrees with it."),
    "compare": ("hand.compare", "Put several designs, or one with settings varied, side by side."),
    "report": ("report", "Account for a laid-out field: PDF, spreadsheet, outlines for funders."),
    "map": ("map", "Write the field as one HTML map that opens without network."),
    "export": ("hand.export", "Write layers of a layout as GeoParquet, FlatGeobuf, GeoJSON, Shapefile or KML."),
    "batch": ("many.batch", "Lay out many fields: a layer of them, or a folder of designs."),
    "portfolio": ("portfolio", "Add up the accounts of many fields."),
    "stakes": ("stakes", "Set stakes for a layout: files for receivers, printed sheets, lists."),
    "sample-plots": ("sample_plots", "Lay out sample plots to count survival in."),
    "survey": ("survey", "Compare a survey with the layout: what was really planted."),
    "season": ("season", "Plan material, calendar, work and money of a layout."),
    "crops": ("hand.crops", "List the crops of the library, or show one with its sources."),
    "schema": ("hand.schema", "Print the design file's keys for editors (JSON Schema)."),
    "guide": ("guide", "Print a page of the guide."),
}

_LIGHT = ("new", "guide")
"""Commands that load no geometry."""

_OBJECTS_BETWEEN_LOOKS = 20_000
"""New objects between two looks for circles of them that nothing reaches: libraries make very many that stay, and looking at these
again and again takes a twentieth of a small field's time. Arrays aren't counted, and most go without a look."""
_TERMINATED = 128 + 15
_LAST_STANDARD_STREAM = 2
_NO_NETWORK = {"PROJ_NETWORK": "OFF"}
"""Read by the library of grids when it starts; files are looked at one by one (`inputs`)."""


def _shared_options() -> list[click.Option]:
    """--quiet, --json and --debug, which every command takes; `main` looks for the last two itself, since a failure may come before."""
    return [
        *habit_options(),
        click.Option(["--debug"], is_flag=True, expose_value=False, help="Show where in the program a failure arose."),
    ]


def _tell_new_name(command: str) -> None:
    """Refuse a command that has another name now, with that name."""
    from geoagro.values.rules.renamed import new_name

    if told := new_name("command", command):
        raise click.UsageError(f"{command} {told}")


@contextmanager
def _to_nobody_if_gone() -> Iterator[None]:
    """End with a code of its own where whoever read what is said has gone; click would end with 1, as a batch with broken fields does."""
    try:
        yield
    except BrokenPipeError:
        sys.stdout = sys.stderr = None  # nothing more to say
        raise click.exceptions.Exit(CLOSED_PIPE) from None


class LazyGroup(click.Group):
    """Lists commands without importing them, so that --help answers at once."""

    def list_commands(self, ctx: click.Context) -> list[str]:  # noqa: ARG002
        """Names in the order of the work."""
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:  # noqa: ARG002
        """Load one command from its module, where it is called `command`."""
        if cmd_name not in COMMANDS:
            _tell_new_name(cmd_name)
            return None
        if cmd_name not in _LIGHT:
            refuse_little_memory()
        command: click.Command = importlib.import_module(f"geoagro.cli.{COMMANDS[cmd_name][0]}").command
        if not any(option.name == "json" for option in command.params):
            command.params.extend(_shared_options())
            command.callback = with_habits(cmd_name, command.callback or (lambda: None))
        return command

    def make_context(self, *given: Any, **named: Any) -> click.Context:
        """As every group; help and version are said here."""
        with _to_nobody_if_gone():
            return super().make_context(*given, **named)

    def invoke(self, ctx: click.Context) -> Any:
        """As every group, but for a reader that goes away."""
        with _to_nobody_if_gone():
            return super().invoke(ctx)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:  # noqa: ARG002
        """Print the list from the table above."""
        with formatter.section("Commands"):
            formatter.write_dl([(name, text) for name, (_, text) in COMMANDS.items()])


@click.command(cls=LazyGroup, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="geoagro")
def group() -> None:
    """Lay out, mark, plan and account for agroforestry fields on real ground.

    Start with `geoagro new myfield`, edit myfield/design.yaml, then run
    `geoagro check myfield/design.yaml` and `geoagro layout myfield/design.yaml`.
    """


group.params.extend(_shared_options())


def main(arguments: Sequence[str] | None = None) -> NoReturn:
    """Run the command and end the program; every failure is told in words, with an exit code for its class.

    0 done, 2 usage, 3 design, 4 input, 5 ground, 6 output, 7 memory, 70 a mistake of the program, 130 interrupted,
    141 whoever read what it says has gone, 143 ended from outside.
    """
    given = list(sys.argv[1:] if arguments is None else arguments)
    _prepare()
    warnings.simplefilter("ignore", FindingWarning)  # commands print findings in words
    try:
        code = group(args=given, prog_name="geoagro", standalone_mode=False)
    except SystemExit:
        raise
    except BaseException as error:
        sys.exit(_told(error, given))
    sys.exit(code if isinstance(code, int) else 0)


def _prepare() -> None:
    """Let an end from outside clean up too, let no letter that a terminal can't show stop the work, ask no network."""
    os.environ.update(_NO_NETWORK)
    _open_closed_streams()
    gc.set_threshold(_OBJECTS_BETWEEN_LOOKS, *gc.get_threshold()[1:])
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")
    if threading.current_thread() is threading.main_thread():
        signal.signal(signal.SIGTERM, _end)


def _open_closed_streams() -> None:
    """Let a program that was started without standard streams, as some schedulers do, speak to nobody instead of failing.

    Their numbers are taken first: else the next file that is opened gets one, and what a library says goes into it.
    """
    while (number := os.open(os.devnull, os.O_RDWR)) <= _LAST_STANDARD_STREAM:
        os.set_inheritable(number, True)
    os.close(number)
    sys.stdout = sys.stdout or open(os.devnull, "w", encoding="utf-8")  # noqa: SIM115  # open as long as the program
    sys.stderr = sys.stderr or open(os.devnull, "w", encoding="utf-8")  # noqa: SIM115


def _end(_number: int, _frame: FrameType | None) -> NoReturn:
    sys.exit(_TERMINATED)


def _told(error: BaseException, arguments: Sequence[str]) -> int:
    failure = failure_of(error, arguments=arguments)
    if "--debug" in arguments:
        traceback.print_exception(error)
    if "--json" in arguments:
        click.echo(failure.data(), err=True)
    else:
        click.echo("".join(f"geoagro: {problem.text}\n" for problem in failure.problems), err=True, nl=False)
    return failure.exit_code
