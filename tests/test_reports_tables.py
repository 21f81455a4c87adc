import builders
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from report_builders import field, grid_of_plants, together

from geoagro.reports.tables import layout_tables, per_hectare
from geoagro.rows.quality_table import ROWS
from geoagro.values.measures import Measures


def tables_of(**shape):
    site, terrain, ground, _, beds, unplanted = field(**shape)
    plants = together(
        grid_of_plants(beds.tree_beds, spacing_m=3.0),
        grid_of_plants(beds.beds, spacing_m=0.5, crop="salad", first=10**6),
    )
    quality = Measures((ROWS.is_(7),))
    return layout_tables(site, terrain, ground, beds, plants, unplanted, quality=quality), plants


def areas(table, column="area_m2"):
    return dict(zip(table["item"], table[column], strict=True))


def test_a_flat_square_field_has_the_areas_and_counts_of_the_closed_form():
    tables, _ = tables_of()  # 90 m x 90 m, 20 rows 4.5 m apart, 90 m long
    got = areas(tables.area_summary)
    assert got["field"] == got["plantable"] == 8100.0
    assert got["tree_beds"] == 20 * 90 * 1.0
    assert got["vegetable_beds"] == 2 * 20 * 90 * 1.0
    assert got["paths"] == 2 * 20 * 90 * 0.5
    assert got["row_margin"] == got["unplanted"] == 20 * 90 * 0.5
    crops = tables.crop_summary.set_index("crop")
    assert crops.loc["tree", "plants"] == 20 * 30
    assert crops.loc["salad", "plants"] == 2 * 20 * 180
    assert crops.loc["tree", "per_ha_field"] == pytest.approx(1e4 / (4.5 * 3), abs=0.05)
    rows = tables.row_summary
    assert len(rows) == 40
    assert set(rows.loc[rows["crop"] == "salad", "plants"]) == {360}


def test_every_sloping_area_of_a_plane_is_the_plan_area_times_its_factor():
    tables, _ = tables_of(slope=0.3, setback_m=2.0)
    table = tables.area_summary
    assert table["ground_area_m2"].to_numpy() == pytest.approx(table["area_m2"] * np.sqrt(1.09), abs=0.2)


@settings(max_examples=8, deadline=None)
@given(size=st.floats(30, 120), spacing=st.floats(4.2, 9), setback=st.floats(0.5, 5))
def test_parts_add_up_to_their_whole_to_the_last_digit(size, spacing, setback):
    tables, _ = tables_of(size_m=size, spacing_m=spacing, setback_m=setback)
    table = tables.area_summary
    for column in ("area_m2", "ground_area_m2", "geodesic_area_m2"):
        got = areas(table, column)
        for whole in ("field", "plantable"):
            parts = table.loc[table["part_of"] == whole, column]
            assert f"{sum(parts):.1f}" == f"{got[whole]:.1f}"
    assert abs(areas(table)["difference"]) <= 0.6


def test_geodesic_area_of_the_field_is_what_a_second_library_measures():
    geographiclib = pytest.importorskip("geographiclib.geodesic")
    from pyproj import Transformer  # noqa: PLC0415

    tables, _ = tables_of()
    lonlat = Transformer.from_crs(builders.UTM, 4326, always_xy=True)
    ring = geographiclib.Geodesic.WGS84.Polygon()
    for x, y in builders.square_site(90.0).boundary.geoms[0].exterior.coords[:-1]:
        lon, lat = lonlat.transform(x, y)
        ring.AddPoint(lat, lon)
    assert areas(tables.area_summary, "geodesic_area_m2")["field"] == pytest.approx(abs(ring.Compute()[2]), abs=0.051)


def test_the_quality_is_passed_on_and_no_ground_gives_no_density():
    tables, _ = tables_of()
    assert tables.layout_quality[ROWS] == 7
    assert np.isnan(per_hectare(np.array([3]), 0.0)).all()


def test_many_plants_per_hectare_are_told_to_the_last():
    """12,345.6 m2 with 123,456 plants: 100,000 a hectare."""
    assert per_hectare(np.array([123_456, 0]), 12_345.6).tolist() == [100_000.0, 0.0]
    assert np.isnan(per_hectare(np.array([3]), 0.0)).all()
