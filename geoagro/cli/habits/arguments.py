"""The design file and the folder for results, by one name and in one wording."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import click

from geoagro.values.rules.renamed import new_name

Decorator = Callable[[Any], Any]

FOLDER = "Folder for the result; if left out, output.folder of the design."
LAID = "Folder that holds the layout and takes the result; if left out, output.folder of the design."


def design_argument(name: str = "design") -> Decorator:
    """Take the design file as argument DESIGN."""
    return click.argument(name, type=click.Path(path_type=Path), metavar="DESIGN")


def folder_option(name: str = "output", *, words: str = FOLDER, required: bool = False) -> Decorator:
    """Take the folder for the result as --output or -o; `words` are those of a command whose default is another."""
    return click.option("--output", "-o", name, required=required, type=click.Path(path_type=Path), help=words)


def gone_option(flag: str, command: str) -> Decorator:
    """Refuse an option that has another name now, with that name."""

    def refuse(_context: click.Context, _option: click.Parameter, value: str | None) -> None:
        if value is not None:
            raise click.UsageError(f"{flag} {new_name('option', f'{command} {flag}').replace(f'{command} ', '')}")

    return click.option(flag, f"gone_{flag.strip('-')}", hidden=True, expose_value=False, callback=refuse)
