"""Hold the folder that a command writes to, from before its work until it ends."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import click


def hold(folder: Path, names: Sequence[str] = ()) -> None:
    """Claim a result folder for the running command.

    A second run into it, and results that can't be replaced (`names`), are refused now, before any work; moves that
    a killed run left half done are finished. The folder is let go when the command ends.
    """
    from geoagro.outputs.staging import claimed

    click.get_current_context().with_resource(claimed(Path(folder), names))
