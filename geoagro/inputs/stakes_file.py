"""Stakes and sample plots of earlier runs, read back so that names and places last."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pyogrio
from pyogrio.errors import DataLayerError, DataSourceError

from geoagro.crs import name_of, same
from geoagro.errors import InputError
from geoagro.values.layers import LayerSpec
from geoagro.values.stakeout import MARKS, PLOTS

STAKES = Path("stakes") / "stakes.gpkg"
SAMPLE_PLOTS = Path("plots") / "plots.gpkg"


def earlier_marks(folder: Path, crs: Any) -> Any | None:
    """Layer MARKS of the last stake-out in a result folder; None if there is none.

    Raises InputError where the file can't be read or is in another CRS than the layout.
    """
    path = Path(folder) / STAKES
    return _layer(path, MARKS, crs) if path.exists() else None


def read_marks(folder: Path, crs: Any) -> Any:
    """Layer MARKS of the last stake-out; raises InputError if there is none."""
    marks = earlier_marks(folder, crs)
    if marks is None:
        raise InputError(f"{Path(folder) / STAKES}: there are no stakes yet. Run `geoagro stakes DESIGN` first.")
    return marks


def read_plots(folder: Path, crs: Any) -> Any:
    """Layer PLOTS; raises InputError if none were laid out."""
    path = Path(folder) / SAMPLE_PLOTS
    if not path.exists():
        raise InputError(f"{path}: there are no sample plots yet. Run `geoagro plots DESIGN` first.")
    return _layer(path, PLOTS, crs)


def _layer(path: Path, spec: LayerSpec, crs: Any) -> Any:
    try:
        frame = pyogrio.read_dataframe(path, layer=spec.name, use_arrow=True)
    except (DataSourceError, DataLayerError) as error:
        raise InputError(f"{path} can't be read ({error}). Move it away to begin anew.") from error
    if frame.crs is None or not same(frame.crs, crs):
        stated = "no CRS" if frame.crs is None else name_of(frame.crs)
        raise InputError(
            f"{path} is in {stated}, the layout in {name_of(crs)}. Move the file away to begin with new names."
        )
    for field in spec.fields:
        if field.kind == "text":
            frame[field.name] = frame[field.name].fillna("")
    spec.check(frame)
    return frame
