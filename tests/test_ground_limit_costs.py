"""What each limit costs: areas by hand, and that they add up."""

import numpy as np
import pytest
import shapely
from builders import EAST, NORTH, UTM, square_ground, straight_rows
from hypothesis import given, settings
from hypothesis import strategies as st
from row_plan_builders import cut_pieces, design, row_plan
from shapely import LineString, MultiPolygon, box

from geoagro.ground.leftover import ground_without_rows
from geoagro.ground.limit_costs import limit_costs
from geoagro.values.ground import UNPLANTED, Ground


def test_rows_serve_half_the_widest_distance_on_each_side():
    rows = straight_rows()
    left = ground_without_rows(square_ground(), list(rows.frame.geometry), rows.cut, spacing_m=4.5, tolerance=0.1)
    # 22 rows from 2.25 m below the northern edge, the last 3.25 m above the southern one, which it serves to 0.775 m
    assert left["reason"].tolist() == ["row_margin"]
    assert left["area_m2"].sum() == pytest.approx((3.25 - 2.475) * 100)


@settings(max_examples=15, deadline=None)
@given(st.lists(st.tuples(*[st.floats(5, 95)] * 4), min_size=1, max_size=6), st.floats(0.01, 0.4))
def test_ground_with_and_without_rows_adds_up_to_the_field(ends, tolerance):
    lines = [LineString([(EAST + a, NORTH + b), (EAST + c, NORTH + d)]) for a, b, c, d in ends if (a, b) != (c, d)]
    lines = [line for line in lines if line.length > 1]
    ground = square_ground()
    left = ground_without_rows(ground, lines, straight_rows().cut, spacing_m=4.5, tolerance=tolerance)
    served = MultiPolygon([ground.boundary.geoms[0]]).intersection(
        shapely.union_all([line.buffer(2.25 * (1 + tolerance), cap_style="flat") for line in lines])
    )
    assert left["area_m2"].sum() + served.area == pytest.approx(10_000, abs=1e-2)


def test_costs_name_the_setting_with_its_value_and_the_share_of_what_they_take_from():
    field = MultiPolygon([box(0, 0, 100, 100)])
    before = UNPLANTED.frame({"reason": ["setback"], "area_m2": [1000.0]}, geometry=[box(0, 0, 10, 100)], crs=UTM)
    ground = Ground(field, MultiPolygon([box(10, 0, 100, 100)]), before)
    row = LineString([(10, 50), (100, 50)])
    cut = cut_pieces(grade_limit=LineString([(10, 60), (40, 60)]))
    left = ground_without_rows(ground, [row], cut, spacing_m=4.0, tolerance=0.25)
    table = limit_costs(ground, left, design(max_grade_pct=3.5)).set_index("reason")
    assert list(table.index) == ["setback", "grade_limit", "row_margin"]
    assert table["setting"].tolist() == ["ground.setback_m 1", "rows.max_grade_pct 3.5", ""]
    assert table["part_of"].tolist() == ["field", "plantable", "plantable"]
    assert table.loc["setback", "share_pct"] == pytest.approx(10.0)
    # a piece of 30 m serves 2 m on both sides and half a disc past its inner end; the row serves 90 m by 5 m
    assert table.loc["grade_limit", "area_m2"] == pytest.approx(30 * 4 + np.pi * 2, rel=2e-3)
    assert table.loc[["grade_limit", "row_margin"], "area_m2"].sum() == pytest.approx(9000 - 90 * 5)
    assert table.loc["row_margin", "words"] == "Leftover at edges and row ends"


def test_costs_add_up_to_the_unplanted_ground():
    plan = row_plan()
    assert plan.costs["area_m2"].sum() == pytest.approx(plan.unplanted["area_m2"].sum())
    assert set(plan.costs["reason"]) == {"grade_limit", "row_margin"}
