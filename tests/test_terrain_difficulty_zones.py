"""Which limit the ground reaches first, as areas: saddles with a known verdict."""

import numpy as np
import pytest
import shapely
from builders import plane, square_site
from row_plan_builders import FIELD, LIMITS, saddle

from geoagro.terrain.difficulty import terrain_difficulty
from geoagro.terrain.difficulty_zones import difficulty_zones


def zones_of(terrain, area=FIELD):
    return difficulty_zones(terrain_difficulty(terrain, area, **LIMITS), area, spacing_m=4.5)


@pytest.mark.parametrize(("steepness", "first"), [(0.003, "spacing"), (0.02, "grade")])
def test_zones_agree_with_the_verdict_on_the_field(steepness, first):
    zones = zones_of(saddle(steepness))
    by_kind = zones.groupby("first")["area_m2"].sum()
    assert by_kind.drop("neither", errors="ignore").idxmax() == first


def test_zones_split_the_plantable_ground_without_overlap():
    zones = zones_of(saddle(0.006))
    assert len(zones) > 1
    assert zones["area_m2"].sum() == pytest.approx(FIELD.area, rel=1e-6)
    assert zones.union_all().area == pytest.approx(FIELD.area, rel=1e-6)
    assert (zones["area_m2"] > 0).all()


def test_a_plane_is_one_zone_where_neither_gives_out():
    field = square_site().boundary
    zones = zones_of(plane(), field)
    assert zones["first"].tolist() == ["neither"]
    assert zones["area_m2"].sum() == pytest.approx(field.area)


def test_medians_are_those_of_the_zone():
    terrain = saddle(0.02)
    difficulty = terrain_difficulty(terrain, FIELD, **LIMITS)
    zones = difficulty_zones(difficulty, FIELD, spacing_m=4.5)
    largest = zones.loc[zones["area_m2"].idxmax()]
    grid = difficulty.equidistant_m
    x, y = np.meshgrid(grid.x, grid.y)
    inside = shapely.contains_xy(largest.geometry, x, y)
    assert largest["equidistant_m"] == pytest.approx(np.median(grid.values[inside]), rel=0.02)
    assert largest["holds_grade_rows"] == pytest.approx(
        np.median(difficulty.holds_grade_m.values[inside]) / 4.5, rel=0.02
    )
