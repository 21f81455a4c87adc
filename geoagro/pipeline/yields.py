"""Light and yields of the recipe in company."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

import geopandas as gpd
import numpy as np
import shapely

from geoagro.light.capture import Scene, captures
from geoagro.light.growth import canopy_of
from geoagro.light.rays import Sky
from geoagro.pipeline.steps import crops_of
from geoagro.plants.section import section_of
from geoagro.values.base.remembering import remembered
from geoagro.values.design import BedRule, Design
from geoagro.values.light import Capture
from geoagro.values.progress import Progress, silent
from geoagro.values.recipe import Crop, Planting
from geoagro.values.rules.bed_kinds import BED_KINDS, lasts
from geoagro.values.rules.care import WEEKS_PER_YEAR, bears_for_years
from geoagro.values.season import CropSeason, SeasonRule
from geoagro.values.section import Key, key_of
from geoagro.values.timeline import Standing, Timeline
from geoagro.values.words import CropName, Sentence
from geoagro.values.yields import YieldsInCompany
from geoagro.yields.company import Sight, yields_in_company
from geoagro.yields.records.tables import RecipeYields
from geoagro.yields.tables import Remedy, recipe_yields, too_dark

_YEARS = 8
_EDGE = (
    "it stands in beds at the field's edge, with a tree row on one side only, for which nothing is reckoned; the full "
    "yield of the crop alone is counted, likely too much where crops share the bed"
)
_BEARINGS = np.arange(0.0, 180.0, 45.0)
_LEAST_SHARE = 0.15
_PRUNED = 0.6
_WIDER_M = 1.5

LESS = (4 / 3, 0.3)
LIKELY = (1.0, 0.5)
MORE = (2 / 3, 0.7)
"""Leaf area as a multiple of the likely one, and the share of light from the whole sky: what is less kind to the crops
below, likely, and kinder (judgement, no source)."""


def yields_of(
    design: Design,
    crops: Mapping[str, Crop],
    *,
    latitude_deg: float | None,
    bearings: Mapping[float, float],
    progress: Progress = silent,
) -> YieldsInCompany:
    """Give the yields in company of every crop of the recipe, round by round and year by year of the plan.

    Parameters
    ----------
    latitude_deg
        None where no field is known: then an even sky is taken.
    bearings
        Bearings of the rows with their shares of the length.
    """
    if not design.plantings:
        return YieldsInCompany((), (), "")
    latitude_deg = sky_latitude(latitude_deg)
    recipe = _Recipe(design, crops)
    classes = bearing_classes(bearings)
    main = max(classes, key=lambda bearing: classes[bearing])
    low, high = (recipe.captures(latitude_deg, main, which) for which in (LESS, MORE))
    sights = []
    for k, (bearing, weight) in enumerate(classes.items()):
        progress("light and yields", k / len(classes))
        sights.append(Sight(weight, low, recipe.captures(latitude_deg, bearing, LIKELY), high))
    sky = Sentence("an even sky (no place known)")
    if latitude_deg is not None:
        sky = Sentence("the sun at latitude {latitude:.1f}", latitude=latitude_deg)
    found = yields_in_company(sights, crops, design.plantings, sky=sky)
    return replace(found, uncorrected=(*found.uncorrected, *_at_the_edge(design.plantings)))


def _at_the_edge(plantings: Sequence[Planting]) -> Iterator[tuple[Key, str]]:
    """Name what stands in beds with a row on one side only: the section across the alleys doesn't hold it."""
    for planting in plantings:
        for code in planting.crops if BED_KINDS[planting.bed].at_edge else ():
            yield Key(planting.bed, planting.mixture_name, planting.label, code), _EDGE


def recipe_yields_of(
    design: Design,
    library: Mapping[str, Crop],
    *,
    latitude_deg: float | None = None,
    bearings: Mapping[float, float] | None = None,
    progress: Progress = silent,
) -> RecipeYields:
    """Tables of yields in company and land equivalent ratios, and what to do where beds are too dark or too full.

    >>> from geoagro import example_layout, read_crop_library, recipe_yields_of
    >>> laid, library = example_layout(), read_crop_library()
    >>> recipe_yields_of(laid.design, library).land["year"].tolist()
    [1, 1, 5, 5, 6, 6, 7, 7, 8, 8]
    """
    crops = crops_of(design, library)
    along = bearings or {0.0: 1.0}
    yields = yields_of(design, crops, latitude_deg=latitude_deg, bearings=along, progress=progress)
    kinds = {share.kind for share in yields.shares}
    recipe = _Recipe(design, crops) if kinds else None
    bears = {key_of(k): k.stays[0].harvest_from_week for k in recipe.timeline.kinds} if recipe else {}
    remedies = []
    if too_dark(yields, crops):
        progress("light and yields: what would help", 0.9)
        main = max(bearing_classes(along).items(), key=lambda item: item[1])[0]
        remedies = [
            Remedy(words, _quick(changed, changed_crops, sky_latitude(latitude_deg), main))
            for words, changed, changed_crops in _changes(design, crops)
        ]
    return recipe_yields(yields, crops, bears, remedies)


def _tallest(design: Design, crops: Mapping[str, Crop]) -> str | None:
    """Name the tallest crop of the vegetable beds that has lines of its own, where several stand there."""
    codes = {p.crop for p in design.plantings if not lasts(p.bed) and p.crop and p.beside is None}
    return max(codes, key=lambda code: (crops[code].height_m or 0.0, code)) if len(codes) > 1 else None


def _quick(design: Design, crops: Mapping[str, Crop], latitude_deg: float | None, bearing: float) -> YieldsInCompany:
    taken = _Recipe(design, crops).captures(latitude_deg, bearing, LIKELY)
    return yields_in_company([Sight(1.0, taken, taken, taken)], crops, (), sky="")


def _changes(design: Design, crops: Mapping[str, Crop]) -> Iterator[tuple[str, Design, dict[str, Crop]]]:
    """Recipes with one thing changed that lets more light in: pruned trees, wider rows."""
    trees = {code for planting in design.plantings if lasts(planting.bed) for code in planting.crops}
    pruned = {
        code: crop.model_copy(
            update={"pruned_width_m": _PRUNED * crop.canopy_width_m, "canopy_width_m": _PRUNED * crop.canopy_width_m}
        )
        if code in trees and crop.canopy_width_m
        else crop
        for code, crop in crops.items()
    }
    yield Sentence("prune the trees to {share:.0f} % of their width each year", share=100 * _PRUNED), design, pruned
    tall = _tallest(design, crops)
    if tall:
        apart = tuple(
            p.model_copy(update={"spacing_m": 2 * (p.spacing_m or crops[tall].spacing_m or 1.0)})
            if p.crop == tall
            else p
            for p in design.plantings
        )
        yield (
            Sentence("{crop} twice as far apart", crop=CropName(tall)),
            design.model_copy(update={"plantings": apart}),
            dict(crops),
        )
    wider = design.rows.model_copy(update={"spacing_m": design.rows.spacing_m + _WIDER_M})
    yield (
        Sentence("rows {more:g} m farther apart", more=_WIDER_M),
        design.model_copy(update={"rows": wider}),
        dict(crops),
    )


def sky_latitude(latitude_deg: float | None) -> float | None:
    """Latitude for which light is reckoned: to the tenth of a degree that is told, so at most a tenth of the sun's own width off.

    Fields some kilometres apart then share the same light, which is worked out once.

    >>> sky_latitude(45.1537), sky_latitude(-33.87), sky_latitude(None)
    (45.2, -33.9, None)
    """
    return None if latitude_deg is None else round(latitude_deg, 1)


def bearing_classes(bearings: Mapping[float, float]) -> dict[float, float]:
    """Gather bearings into classes of 45 degrees, without rare ones; shares add up to 1.

    >>> bearing_classes({3.0: 50.0, 178.0: 50.0})
    {0.0: 1.0}
    """
    sums = dict.fromkeys(_BEARINGS.tolist(), 0.0)
    for bearing, length in bearings.items():
        sums[float(_BEARINGS[int(np.floor((bearing % 180.0) / 45.0 + 0.5)) % len(_BEARINGS)])] += length
    total = sum(sums.values())
    kept = {b: s / total for b, s in sums.items() if s >= _LEAST_SHARE * total} if total > 0 else {0.0: 1.0}
    whole = sum(kept.values())
    return {bearing: share / whole for bearing, share in kept.items()}


def bearings_of(strips: gpd.GeoDataFrame) -> dict[float, float]:
    """Bearing of each tree bed, from the longer side of its outline, with its length.

    >>> from geoagro import bearings_of, example_layout
    >>> laid = example_layout()
    >>> bearings_of(laid.beds.tree_beds)
    {90.0: 324.0}
    """
    if not len(strips):
        return {}
    corners = shapely.get_coordinates(shapely.oriented_envelope(strips.geometry.to_numpy())).reshape(-1, 5, 2)
    sides = np.diff(corners[:, :3], axis=1)
    longer = sides[np.arange(len(sides)), np.argmax(np.hypot(sides[..., 0], sides[..., 1]), axis=1)]
    degrees = np.round(np.degrees(np.arctan2(longer[:, 0], longer[:, 1])) % 180.0, 1)
    found: dict[float, float] = {}
    for bearing, length in zip(degrees.tolist(), strips["length_m"].tolist(), strict=True):
        found[bearing] = found.get(bearing, 0.0) + length
    return found


@dataclass(frozen=True)
class _Recipe:
    """The recipe across the rows."""

    design: Design
    crops: Mapping[str, Crop]

    @property
    def timeline(self) -> Timeline:
        """What stands in the recipe, kind by kind."""
        asked = self.design
        return section_of(
            asked.beds, asked.rows.spacing_m, self.crops, asked.plantings, asked.season, start=asked.start_date
        )[1]

    def captures(self, latitude_deg: float | None, bearing: float, which: tuple[float, float]) -> tuple[Capture, ...]:
        """Sum up the light that each kind takes; `which` is one of LESS, LIKELY, MORE."""
        asked, sky = self.design, (latitude_deg, bearing, *which)
        return _captures(
            asked.beds, asked.rows.spacing_m, self.crops, asked.plantings, asked.season, start=asked.start_date, sky=sky
        )


@remembered(32)
def _captures(
    rule: BedRule,
    spacing_m: float,
    crops: Mapping[str, Crop],
    plantings: Sequence[Planting],
    season: SeasonRule | None,
    *,
    start: date | None,
    sky: tuple[float | None, float, float, float],
) -> tuple[Capture, ...]:
    """Sum up the light that each kind takes under a `sky`: latitude, bearing of the rows, leaf area, share of the whole sky."""
    section, timeline = section_of(rule, spacing_m, crops, plantings, season, start=start)
    latitude_deg, bearing, leaf, diffuse = sky
    above, kinds = Sky(latitude_deg, diffuse), timeline.kinds
    canopies = {key_of(kind): canopy_of(crops[kind.crop], south=above.south, leaf_factor=leaf) for kind in kinds}
    scene = Scene(section, canopies, above, bearing, start.month if start else None)
    return captures(scene, kinds, weeks=_horizon(season, timeline), perennial=_perennial(season, crops, kinds))


def _perennial(season: SeasonRule | None, crops: Mapping[str, Crop], kinds: Sequence[Standing]) -> dict[Key, bool]:
    own = season.crops if season else {}
    return {key_of(kind): bears_for_years(crops[kind.crop], own.get(kind.crop, CropSeason())) for kind in kinds}


def _horizon(season: SeasonRule | None, timeline: Timeline) -> float:
    """Weeks that are looked at: the years of the plan, and as far as a crop that is harvested once stands."""
    if season is not None:
        return season.years * WEEKS_PER_YEAR
    ends = [stay.end_week for kind in timeline.kinds for stay in kind.stays]
    return float(min(max(ends, default=0), _YEARS * WEEKS_PER_YEAR))
