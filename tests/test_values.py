"""Values that hold frames, arrays and geometry: how they print, show themselves and compare."""

from dataclasses import fields, replace

import numpy as np
import pytest
from builders import UTM, plane, square_ground, square_site, straight_rows
from pyproj import CRS

from geoagro import (
    beds_of,
    crops_of,
    example_field,
    ground_of,
    lay_out,
    plants_of,
    read_crop_library,
    stakes_of,
    terrain_of,
    tree_rows_of,
)
from geoagro.errors import CrsError
from geoagro.values.base.value import Value

OTHER = CRS.from_epsg(32634)


@pytest.fixture(scope="module")
def laid():
    return lay_out(*example_field(), read_crop_library())


def every_value(value):
    """The value and all values inside it."""
    yield value
    for field in fields(value):
        inner = getattr(value, field.name)
        if isinstance(inner, Value):
            yield from every_value(inner)


def test_a_layout_prints_in_a_few_lines(laid):
    assert len(repr(laid)) < 500
    assert "Example field, 0.16 ha, EPSG:32633" in repr(laid)
    assert "6, 0.32 km, every 5 m" in repr(laid)


def test_everything_in_a_layout_prints_in_a_few_lines(laid):
    for value in every_value(laid):
        assert len(repr(value).splitlines()) <= 6
        assert len(repr(value)) <= 700
    assert len(repr(laid.design).splitlines()) <= 3


def test_a_notebook_shows_a_summary_and_a_map(laid):
    page = laid._repr_html_()
    assert page.count("<svg") == 1
    assert "EPSG:32633" in page
    assert len(page) < 300_000


def test_a_notebook_escapes_names():
    assert "<script>" not in replace(square_site(), name="<script>")._repr_html_()


def test_comparing_values_compares_what_they_hold(laid):
    again = lay_out(*example_field(), read_crop_library())
    assert again == laid
    for mine, other in zip(every_value(laid), every_value(again), strict=True):
        assert mine == other
    moved = replace(laid, rows=replace(laid.rows, frame=laid.rows.frame.assign(length_m=1.0)))
    assert moved != laid
    assert laid != "something else"


def test_grids_with_gaps_and_other_shapes_compare_without_raising():
    slope = plane().slope
    gaps = slope.with_values(np.where(slope.values > 0, np.nan, slope.values))
    assert gaps == gaps.with_values(gaps.values.copy())
    assert gaps != slope
    assert replace(slope, values=slope.values[:5]) != slope
    assert replace(slope, crs=OTHER) != slope


def test_ground_in_another_crs_is_refused_at_the_door_of_the_terrain():
    design, site, source = example_field()
    with pytest.raises(CrsError, match=r"field are in EPSG:32633|EPSG:32634"):
        terrain_of(design, replace(site, crs=OTHER), source)


def test_terrain_in_another_crs_is_refused_at_the_door_of_the_ground():
    design, site, source = example_field()
    with pytest.raises(CrsError, match="EPSG:32634"):
        ground_of(design, replace(site, crs=OTHER), terrain_of(design, site, source))


def test_ground_in_another_crs_is_refused_at_the_door_of_the_rows():
    ground = square_ground()
    ground = replace(ground, unplanted=ground.unplanted.set_crs(OTHER, allow_override=True))
    with pytest.raises(CrsError, match="EPSG:32634"):
        tree_rows_of(example_field().design, square_site(), plane(), ground)


def test_rows_in_another_crs_are_refused_at_the_door_of_the_beds():
    rows = straight_rows()
    rows = replace(rows, frame=rows.frame.set_crs(OTHER, allow_override=True))
    with pytest.raises(CrsError, match="rows are in EPSG:32634"):
        beds_of(example_field().design, square_ground(), rows)


def test_terrain_in_another_crs_is_refused_at_the_door_of_the_plants(laid):
    design = laid.design
    terrain = replace(laid.terrain, slope=replace(laid.terrain.slope, crs=OTHER))
    with pytest.raises(CrsError, match="beds are in EPSG:32633, terrain in EPSG:32634"):
        plants_of(design, terrain, laid.beds, crops_of(design, read_crop_library()))


def test_terrain_in_another_crs_is_refused_at_the_door_of_the_stakes(laid):
    terrain = replace(laid.terrain, slope=replace(laid.terrain.slope, crs=OTHER))
    with pytest.raises(CrsError, match="terrain in EPSG:32634"):
        stakes_of(laid.design, laid.site, laid.rows, laid.beds, terrain)
    assert laid.site.crs == UTM
