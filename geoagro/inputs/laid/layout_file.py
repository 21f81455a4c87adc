"""A written layout (`layout.gpkg`), read back as it was approved: marks, surveys, plans and reports start from it."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

import geopandas as gpd
import pandas as pd
import pyogrio
import shapely
from pydantic import ValidationError
from pyogrio.errors import DataLayerError, DataSourceError
from pyproj import CRS
from shapely import MultiPolygon

from geoagro.crs import to_lonlat
from geoagro.errors import EditedError, InputError
from geoagro.inputs.files import reading
from geoagro.inputs.laid.narrow_plants import NarrowPlants
from geoagro.inputs.laid.own_table import own_table
from geoagro.inputs.laid.sealed import Sealed, is_large
from geoagro.inputs.local_only import check_vector
from geoagro.values.base.value import Value
from geoagro.values.beds import BEDS, PATHS, TREE_BEDS, Beds
from geoagro.values.design import Design
from geoagro.values.plants import PLANTS
from geoagro.values.results.as_written import AsWritten
from geoagro.values.results.seal import SEALS
from geoagro.values.rows import TREE_ROWS, TreeRows
from geoagro.values.rules.renamed import old_names
from geoagro.values.site import EXCLUSIONS, FIELD, Exclusion, Site, SourceFile
from geoagro.values.zones import ZONE_AREAS, ZONE_CROPS, ZONES, ZoneAccount

NAME = "layout.gpkg"
_PLANTS = "plants_"
_SPECS = {s.name: s for s in (FIELD, EXCLUSIONS, TREE_ROWS, TREE_BEDS, BEDS, PATHS, ZONES, ZONE_AREAS, ZONE_CROPS)}
_NOT_FILES = ("program", "working_crs", "heights", "design", "design_file")
SHAPING = ("inputs", "ground", "rows", "beds", "crops", "plantings", "zones")


@dataclass(frozen=True, eq=False, repr=False)
class LayoutFile(Value):
    """What a layout file holds; layers are read when they are asked for.

    Attributes
    ----------
    path
        The GeoPackage.
    crs
        The working CRS of all layers.
    layers
        Names of all layers and tables.
    design
        The design with every value that was in force.
    heights
        Where heights come from, in words.
    sources
        Files that the layout was made from, with their checksums then.
    sealed
        The checksums that the file carries.

    >>> from pathlib import Path
    >>> from geoagro import example_layout, read_layout_file, write_layout
    >>> import tempfile
    >>> laid = example_layout()
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     file = read_layout_file(write_layout(laid, Path(folder))[0])
    ...     print(file.crs.to_epsg(), len(file.plants()))
    32633 5490
    """

    path: Path
    crs: CRS
    layers: tuple[str, ...]
    design: Design
    heights: str
    sources: tuple[SourceFile, ...]
    sealed: Sealed

    def frame(self, name: str) -> Any:
        """One layer (GeoDataFrame) or table (DataFrame); texts that are empty come back as None.

        Raises InputError if the layout has no such layer or one of another version of the program, EditedError if it was
        edited since it was written.
        """
        if name not in self.layers:
            self._refuse_old_name(name)
            raise InputError(
                f"{self.path} has no layer '{name}' (it has: {', '.join(self.layers)}). Run `geoagro layout` again."
            )
        with reading(f"{self.path}, layer {name}"):
            frame = _sound(self.sealed.frame(name), f"{self.path}, layer {name}")
        _refuse_other_version(frame, name, where=f"{self.path}, layer {name}")
        return frame

    def _refuse_old_name(self, name: str) -> None:
        if old := next((one for one in old_names("layer", name) if one in self.layers), ""):
            raise InputError(
                f"{self.path} is of an older version: layer '{old}' is now '{name}'. Run `geoagro layout` again."
            )

    @property
    def plant_count(self) -> int:
        """How many plants the layout had when it was written."""
        return sum(seal.features for name, seal in self.sealed.seals.items() if name.startswith(_PLANTS))

    def is_large(self, name: str) -> bool:
        """Tell whether a layer is too large to be read at once."""
        return name in self.layers and is_large(self.path, name)

    def parts(self, name: str) -> Iterator[gpd.GeoDataFrame]:
        """Read a large layer in parts."""
        return self.sealed.parts(name)

    def rows(self) -> TreeRows:
        """Tree rows; what had been cut isn't kept in the file, so `cut` is empty."""
        frame = self.frame(TREE_ROWS.name)
        with reading(f"{self.path}, layer {TREE_ROWS.name}"):
            frame = frame.sort_values("row", ignore_index=True)
            twice = frame["row"][frame["row"].duplicated()]
        if len(twice):
            raise InputError(
                f"{self.path}, layer {TREE_ROWS.name}: row number {twice.iloc[0]} stands {len(twice) + 1} times. Give each "
                "row a number of its own, or run `geoagro layout DESIGN` again."
            )
        cut = gpd.GeoDataFrame({"reason": []}, geometry=gpd.GeoSeries([], crs=self.crs), crs=self.crs)
        return TreeRows(frame, self.design.rows.spacing_m, cut)

    def rows_checksum(self) -> str:
        """Give the checksum that seals the tree rows; what was made from them carries it along."""
        return self.sealed.seals[TREE_ROWS.name].sha256

    def beds(self) -> Beds:
        """Return the strips, without the `axis` column that is not kept in the file."""
        return Beds(self.frame(TREE_BEDS.name), self.frame(BEDS.name), self.frame(PATHS.name))

    def plants(self) -> gpd.GeoDataFrame:
        """All crops in one frame of layer PLANTS, by plant number."""
        parts = [self.frame(name) for name in self.layers if name.startswith(_PLANTS)]
        if not parts:
            return PLANTS.empty(self.crs)
        with reading(f"{self.path}, layers of plants"):
            plants: gpd.GeoDataFrame = pd.concat(parts, ignore_index=True).sort_values("plant", ignore_index=True)
            return plants

    def plant_table(self) -> pd.DataFrame:
        """Columns of REPORTED of all plants; beyond a million of them narrow, in the order of the file, and without geometry."""
        layers = [name for name in self.layers if name.startswith(_PLANTS)]
        if not any(self.is_large(name) for name in layers):
            return self.plants()
        table = NarrowPlants(self.plant_count)
        for name in layers:
            with reading(f"{self.path}, layer {name}"):
                if self.is_large(name):
                    self.sealed.take(name, table.add)
                else:
                    table.add(self.frame(name))
        return table.frame()

    def zones(self) -> ZoneAccount | None:
        """Return the zones with their areas and plants; None where the design has none."""
        if ZONES.name not in self.layers:
            return None
        return ZoneAccount(*(self.frame(spec.name) for spec in (ZONES, ZONE_AREAS, ZONE_CROPS)))

    def site(self) -> Site:
        """Return the field and the ground kept free, as they lie in the file; guides aren't kept."""
        with reading(f"{self.path}, layers {FIELD.name} and {EXCLUSIONS.name}"):
            return self._site(self.frame(FIELD.name), self.frame(EXCLUSIONS.name))

    def _site(self, field: Any, kept: Any) -> Site:
        if len(field) == 0:
            raise InputError(f"{self.path}: layer {FIELD.name} is empty. Run `geoagro layout DESIGN` again.")
        exclusions = tuple(
            Exclusion(str(name), kind, _multi(area), float(buffer_m))
            for name, kind, area, buffer_m in zip(
                kept["name"], kept["kind"], kept.geometry, kept["buffer_m"], strict=True
            )
        )
        return Site(str(field["name"].iloc[0]), _multi(field.union_all()), exclusions, (), self.crs, (), self.sources)

    def latitude_deg(self) -> float:
        """Latitude of the field's middle."""
        with reading(f"{self.path}, layer {FIELD.name}"):
            middle = shapely.centroid(self.frame(FIELD.name).union_all())
            return float(to_lonlat(middle.x, middle.y, self.crs)[1])

    def differs_from(self, design: Design) -> list[str]:
        """Sections of the design that shape the layout and have been changed since it was written."""
        then, now = self.design.model_dump(mode="json"), design.model_dump(mode="json")
        return [name for name in SHAPING if then[name] != now[name]]


def read_layout_file(path: Path, *, edited: bool = False, large_later: bool = False) -> LayoutFile:
    """Open a layout written by `geoagro layout`: the GeoPackage itself or the folder that it lies in.

    Every layer and table is held against its seal, unless `edited` is true; with `large_later`, layers of more than a million
    features only when they are read.

    Raises
    ------
    InputError
        If there is none, or the file isn't a layout.
    EditedError
        If anything in it was edited since it was written, with the way on.

    >>> from pathlib import Path
    >>> from geoagro import example_layout, read_layout_file, write_layout
    >>> import tempfile
    >>> laid = example_layout()
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     file = read_layout_file(write_layout(laid, Path(folder))[0])
    ...     print(len(file.plants()))
    5490
    """
    path = Path(path)
    path = path / NAME if path.is_dir() or path.suffix != ".gpkg" else path
    if not path.is_file():
        raise InputError(f"{path}: there is no layout yet. Run `geoagro layout DESIGN` first.")
    check_vector(path, where=str(path))
    try:
        with reading(str(path), but=(DataSourceError, DataLayerError)):
            names = tuple(str(name) for name, _ in pyogrio.list_layers(path))
            source = own_table(path, "layout_source")
            crs = _crs_of(path)
    except (DataSourceError, DataLayerError) as error:
        raise InputError(
            f"{path} can't be read as a layout ({error}). If a program has it open, close it there; "
            "otherwise run `geoagro layout DESIGN` again."
        ) from error
    with reading(str(path)):
        sealed = Sealed.read(path, names)
        if not edited:
            sealed.require_whole(large_later=large_later)
        return _opened(path, names, source, crs, sealed)


def layout_just_written(written: AsWritten) -> LayoutFile:
    """Take a layout that this process has just written as `read_layout_file` would read it, without reading the file."""
    crs = written.crs or _crs_of(written.path)
    held = {name: partial(frame, crs) for name, frame in written.frames.items()}
    sealed = Sealed(written.path, written.layers, dict(written.seals), held=held)
    return _opened(written.path, written.layers, held["layout_source"](), crs, sealed)


def _crs_of(path: Path) -> CRS:
    return CRS.from_user_input(pyogrio.read_info(path, layer=TREE_ROWS.name)["crs"])


def _opened(path: Path, names: tuple[str, ...], source: Any, crs: CRS, sealed: Sealed) -> LayoutFile:
    values = dict(zip(source["item"], source["value"], strict=True))
    files = source[~source["item"].isin(_NOT_FILES)]
    return LayoutFile(
        path=path,
        crs=crs,
        layers=names,
        design=_design(path, values.get("design")),
        heights=str(values.get("heights", "")),
        sources=tuple(SourceFile(*row) for row in files[["item", "value", "sha256"]].itertuples(index=False)),
        sealed=sealed,
    )


def edited_layers(folder: Path) -> tuple[str, ...]:
    """Layers of the layout in a folder that were edited, added or deleted; none where there is no sealed layout."""
    try:
        sealed = read_layout_file(folder, edited=True).sealed
    except EditedError:
        return (SEALS.name,)
    except InputError:
        return ()
    return sealed.edited() if sealed.seals else ()


def _design(path: Path, text: str | None) -> Design:
    """Read the design; what it holds by default counts as left out, as a later step asks what the user gave."""
    try:
        whole = Design.model_validate(json.loads(text or ""))
        return Design.model_validate(whole.model_dump(exclude_defaults=True, by_alias=True))
    except (ValidationError, json.JSONDecodeError) as error:
        raise InputError(
            f"{path}: the design inside it can't be read by this version. Run `geoagro layout DESIGN` again."
        ) from error


def _refuse_other_version(frame: Any, name: str, *, where: str) -> None:
    """Raise InputError for a layer without columns that this version needs."""
    spec = PLANTS if name.startswith(_PLANTS) else _SPECS.get(name)
    missing = [column for column in spec.columns if column not in frame] if spec else []
    if missing:
        raise InputError(
            f"{where}: lacks {', '.join(missing)}, so it was written by another version of the program. Run `geoagro layout "
            "DESIGN` again."
        )


def _sound(frame: Any, where: str) -> Any:
    """Give back a layer whose every feature has a geometry, or a table; raise InputError for any other."""
    if not isinstance(frame, gpd.GeoDataFrame):
        return frame
    missing = frame.geometry.isna() | frame.geometry.is_empty
    if missing.any():
        raise InputError(
            f"{where}: feature {int(missing.to_numpy().argmax()) + 1} has no geometry. Delete it in your viewer, or run "
            "`geoagro layout DESIGN` again."
        )
    return frame


def _multi(area: Any) -> MultiPolygon:
    return MultiPolygon(shapely.get_parts(area).tolist())
