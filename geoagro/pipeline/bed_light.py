"""Light on the beds of a layout."""

from __future__ import annotations

from collections.abc import Mapping

from geoagro.light.bed_light import Trees, light_on_beds
from geoagro.light.growth import canopy_of
from geoagro.light.rays import Sky
from geoagro.light.records.bed_light import BedLight
from geoagro.light.spots import spots_on
from geoagro.pipeline.steps import crops_of
from geoagro.pipeline.yields import sky_latitude
from geoagro.plants.section import section_of
from geoagro.values.base.doors import door
from geoagro.values.layout import Layout
from geoagro.values.progress import Progress, silent
from geoagro.values.recipe import Crop
from geoagro.values.rules.bed_kinds import lasts
from geoagro.values.section import key_of
from geoagro.values.words import Sentence, in_a_row, say


@door
def bed_light_of(laid: Layout, library: Mapping[str, Crop], *, progress: Progress = silent) -> BedLight | None:
    """Reckon what light the trees leave on each vegetable bed; None where there are no such beds or no plantings.

    >>> from geoagro import bed_light_of, example_layout, read_crop_library
    >>> laid, library = example_layout(), read_crop_library()
    >>> light = bed_light_of(laid, library)
    >>> len(light.beds)
    10
    """
    design, site = laid.design, laid.site
    if not len(laid.beds.beds) or not design.plantings:
        return None
    progress("light on beds", 0.0)
    crops = crops_of(design, library)
    section, timeline = section_of(
        design.beds, design.rows.spacing_m, crops, design.plantings, design.season, start=design.start_date
    )
    sky = Sky(sky_latitude(site.latitude_deg))
    trees = Trees(
        section=section,
        standings=tuple(kind for kind in timeline.kinds if lasts(kind.bed_kind)),
        canopies={key_of(kind): canopy_of(crops[kind.crop], south=sky.south) for kind in timeline.kinds},
        first_month=design.start_date.month if design.start_date else 1,
    )
    basis = in_a_row(
        Sentence(
            "Trees alone, half of the light from the sky, latitude {latitude:.1f}.", latitude=site.latitude_deg or 0.0
        ),
        "" if design.start_date else say("Year 1 is taken to begin in January, as the design has no start."),
        "" if laid.terrain.aspect_deg is not None else say("The ground is taken as level."),
    )
    spots = spots_on(laid.beds.beds, laid.rows.frame, laid.terrain)
    return light_on_beds(laid.beds.beds, spots, trees, sky, basis=basis)
