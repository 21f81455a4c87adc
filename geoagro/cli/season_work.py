"""Reading a design with its layout and planning the season: what both season commands do first."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from pyproj import CRS

from geoagro import pipeline
from geoagro.cli.holding import hold
from geoagro.errors import DesignError
from geoagro.inputs.design.crop_library import read_crop_library
from geoagro.inputs.laid.layout_file import read_layout_file
from geoagro.pipeline.sizes import refuse_reading
from geoagro.season.records.tables import SeasonPlan
from geoagro.values.beds import Beds
from geoagro.values.design import Design
from geoagro.values.plants import Plants
from geoagro.values.progress import Progress


@dataclass(frozen=True)
class SeasonJob:
    """A design, its plan, and what its files are written from and to."""

    design: Design
    plan: SeasonPlan
    beds: Beds
    crs: CRS
    folder: Path


def read_and_plan(design: Design, design_file: Path, output: Path | None, progress: Progress) -> SeasonJob:
    """Read a design's written layout, and plan the season.

    Raises DesignError where the design has been changed since, in what shapes the layout.
    """
    folder = output or design.folder / design.output.folder
    if folder.is_dir():
        hold(folder)
    layout = read_layout_file(folder)
    changed = layout.differs_from(design)
    if changed:
        raise DesignError(
            f"{design_file}: {', '.join(changed)} changed since the layout in {folder} was written. "
            "Run `geoagro layout` again, so that plan and field agree."
        )
    progress("season: reading the layout", 0.0)
    refuse_reading(layout.plant_count)
    beds = layout.beds()
    plan = pipeline.season_of(
        design,
        Plants(layout.plants()),
        beds,
        read_crop_library(),
        area_ha=layout.site().boundary.area / 1e4,
        latitude_deg=layout.latitude_deg(),
        zones=layout.zones(),
        progress=progress,
    )
    return SeasonJob(design, plan, beds, layout.crs, folder)
