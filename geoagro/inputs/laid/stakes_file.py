"""Stakes and sample plots of earlier runs, read back so that names and places last."""

from __future__ import annotations

from pathlib import Path

import geopandas as gpd
import numpy as np
import pyogrio
import shapely
from pyogrio.errors import DataLayerError, DataSourceError
from pyproj import CRS

from geoagro.crs import name_of, same
from geoagro.errors import InputError
from geoagro.inputs.files import reading
from geoagro.inputs.laid.own_table import own_table
from geoagro.inputs.local_only import check_vector
from geoagro.values.base.one_crs import crs_of
from geoagro.values.layers import LayerSpec
from geoagro.values.rows import TreeRows
from geoagro.values.rules.renamed import RENAMED
from geoagro.values.stakeout import MARKS, PLOTS

STAKES = Path("stakes") / "stakes.gpkg"
SAMPLE_PLOTS = Path("plots") / "plots.gpkg"
_ON_ROW_M = 0.05
_OLD_NAME = (
    "{path} is from an earlier version: {what} {old} is now {new}. Rename it (any GIS viewer can) to keep the names that "
    "stand in the field, or move the file away to begin anew."
)


def earlier_marks(folder: Path, crs: CRS) -> gpd.GeoDataFrame | None:
    """Read layer MARKS of the last stake-out in a result folder; None if there is none.

    Raises InputError where the file can't be read or is in another CRS than the layout.
    """
    path = Path(folder) / STAKES
    return _layer(path, MARKS, crs) if path.exists() else None


def read_marks(folder: Path, rows: TreeRows) -> gpd.GeoDataFrame:
    """Read layer MARKS of the last stake-out.

    Raises InputError if there is none, or if it was made for other rows than those of the layout.

    >>> from pathlib import Path
    >>> from geoagro import example_layout, read_marks, stakes_of, write_stakes
    >>> import tempfile
    >>> laid = example_layout()
    >>> stakes = stakes_of(laid.design, laid.site, laid.rows, laid.beds, laid.terrain)
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     paths = write_stakes(stakes, laid.rows, laid.site, laid.design.stakeout, Path(folder) / "stakes")
    ...     print(len(read_marks(Path(folder), laid.rows)))
    24
    """
    path = Path(folder) / STAKES
    marks = earlier_marks(folder, crs_of(rows.frame))
    if marks is None:
        raise InputError(f"{path}: there are no stakes yet. Run `geoagro stakes DESIGN` first.")
    lines = dict(zip(rows.frame["row"], rows.frame.geometry, strict=True))
    own = np.array([lines.get(row) for row in marks["row"]], dtype=object)
    if any(row not in lines for row in marks["row"]):
        away = np.array([np.inf])
    else:
        away = shapely.distance(marks.geometry.to_numpy(), own)
    if not bool((away <= _ON_ROW_M).all()):
        raise InputError(
            f"{path}: the layout was written anew since these stakes were set, and rows have moved. Run `geoagro stakes "
            "DESIGN` again; stakes that still stand on a row keep their names."
        )
    return marks


def earlier_plots(folder: Path, crs: CRS) -> gpd.GeoDataFrame | None:
    """Read layer PLOTS of a result folder; None if none were laid out.

    Raises InputError where the file can't be read or is in another CRS than the layout.
    """
    path = Path(folder) / SAMPLE_PLOTS
    return _layer(path, PLOTS, crs) if path.exists() else None


def read_plots(folder: Path, crs: CRS) -> gpd.GeoDataFrame:
    """Read layer PLOTS; raises InputError if none were laid out.

    >>> from pathlib import Path
    >>> from geoagro import PlotRule, example_layout, plots_of, read_plots, write_plots
    >>> import tempfile
    >>> laid = example_layout()
    >>> plots, size = plots_of(laid.beds, laid.plants.frame, PlotRule(radius_m=3.0))
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     paths = write_plots(plots, Path(folder) / "plots", title="Example")
    ...     print(len(read_plots(Path(folder), laid.site.crs)))
    18
    """
    plots = earlier_plots(folder, crs)
    if plots is None:
        path = Path(folder) / SAMPLE_PLOTS
        raise InputError(f"{path}: there are no sample plots yet. Run `geoagro sample-plots DESIGN` first.")
    return plots


def _layer(path: Path, spec: LayerSpec, crs: CRS) -> gpd.GeoDataFrame:
    check_vector(path, where=str(path))
    with reading(str(path)):
        return _checked(path, spec, crs)


def _checked(path: Path, spec: LayerSpec, crs: CRS) -> gpd.GeoDataFrame:
    _refuse_old_names(path)
    try:
        frame: gpd.GeoDataFrame = own_table(path, spec.name)
    except (DataSourceError, DataLayerError) as error:
        raise InputError(f"{path} can't be read ({error}). Move it away to begin anew.") from error
    if frame.crs is None or not same(frame.crs, crs):
        stated = "no CRS" if frame.crs is None else name_of(frame.crs)
        raise InputError(
            f"{path} is in {stated}, the layout in {name_of(crs)}. Move the file away to begin with new names."
        )
    for field in spec.fields:
        if field.kind == "text":  # an older file may lack a column of words
            frame[field.name] = frame[field.name].fillna("") if field.name in frame else ""
    spec.check(frame)
    return frame


def _refuse_old_names(path: Path) -> None:
    """Raise InputError for stakes of an earlier version: their names may stand in the field, so they aren't dropped."""
    found = {str(name) for name, _ in pyogrio.list_layers(path)}
    columns = set(pyogrio.read_info(path, layer=MARKS.name)["fields"]) if MARKS.name in found else set()
    for one in RENAMED:
        old, new = one.old.rpartition(".")[2], one.new.rpartition(".")[2]
        if one.kind == "layer" and old in found and new not in found:
            raise InputError(_OLD_NAME.format(path=path, what="layer", old=old, new=new))
        if one.kind == "column" and one.new.startswith(f"{MARKS.name}.") and old in columns and new not in columns:
            raise InputError(_OLD_NAME.format(path=path, what="column", old=old, new=new))
