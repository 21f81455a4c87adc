"""The `geoagro` command: each subcommand lives in its own file and is loaded only when it is called."""

from __future__ import annotations

import importlib
import sys
import warnings

import click

from geoagro.errors import FindingWarning, GeoagroError
from geoagro.version import __version__

# command -> (module under geoagro.cli, one line of help); kept by hand so that --help needs no imports
COMMANDS: dict[str, tuple[str, str]] = {
    "new": ("new", "Write a commented design file to start from."),
    "check": ("check", "Read a design and its files, and say what was found."),
    "bed": ("bed", "Draw each bed of the recipe to plant from, and say what to mind."),
    "rows": ("rows", "Lay tree rows only, say what each limit costs, compare settings."),
    "layout": ("layout", "Lay out the field and write the result."),
    "report": ("report", "Account for a laid-out field: PDF, spreadsheet, plots for funders."),
    "map": ("map", "Write the field as one HTML map that opens without network."),
    "portfolio": ("portfolio", "Add up the accounts of many fields."),
    "stakes": ("stakes", "Set stakes for a layout: files for receivers, printed sheets, lists."),
    "plots": ("plots", "Lay out sample plots to count survival in."),
    "asbuilt": ("asbuilt", "Compare a survey with the layout: what was really planted."),
    "season": ("season", "Plan material, calendar, work and money of a layout."),
    "guide": ("guide", "Print a page of the guide."),
    "season-compare": ("season_compare", "Put the season plans of two designs side by side."),
}


class LazyGroup(click.Group):
    """Lists commands without importing them, so that --help answers at once."""

    def list_commands(self, ctx: click.Context) -> list[str]:  # noqa: ARG002
        """Names in the order of the work."""
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:  # noqa: ARG002
        """Load one command from its module, where it is called `command`."""
        if cmd_name not in COMMANDS:
            return None
        command: click.Command = importlib.import_module(f"geoagro.cli.{COMMANDS[cmd_name][0]}").command
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:  # noqa: ARG002
        """Print the list from the table above."""
        with formatter.section("Commands"):
            formatter.write_dl([(name, text) for name, (_, text) in COMMANDS.items()])


@click.command(cls=LazyGroup)
@click.version_option(__version__, prog_name="geoagro")
def group() -> None:
    """Lay out, mark, plan and account for agroforestry fields on real ground.

    Start with `geoagro new myfield`, edit myfield/design.yaml, then run
    `geoagro check myfield/design.yaml` and `geoagro layout myfield/design.yaml`.
    """


def main() -> None:
    """Run the command; a GeoagroError is printed in words and ends with exit code 1."""
    warnings.simplefilter("ignore", FindingWarning)  # commands print findings in words
    try:
        group()
    except GeoagroError as error:
        click.echo(f"geoagro: {error}", err=True)
        sys.exit(1)
