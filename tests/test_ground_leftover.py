import geopandas as gpd
import pytest
from bed_builders import rows_of
from builders import UTM, square_ground, straight_beds, straight_rows
from shapely import LineString, MultiPolygon, box

from geoagro.ground.leftover import leftover_ground
from geoagro.values.beds import BEDS, PATHS, TREE_BEDS, Beds
from geoagro.values.ground import UNPLANTED, Ground


def cut_pieces(**lines):
    return gpd.GeoDataFrame({"reason": list(lines)}, geometry=list(lines.values()), crs=UTM)


def bare(area):
    ground = Ground(area, area, UNPLANTED.empty(UTM))
    return ground, Beds(TREE_BEDS.empty(UTM), BEDS.empty(UTM), PATHS.empty(UTM))


def test_strips_and_rest_add_up_to_the_field():
    ground, rows = square_ground(), straight_rows()
    beds = straight_beds(rows)  # 22 rows with 5 m served each, overlapping in the paths: 4.5 m of each count
    rest = leftover_ground(ground, beds, rows.cut, spacing_m=4.5)
    # rows reach from 2.25 - 2.0 m below the northern edge to 3.25 - 2.0 m above the southern one, paths between open
    free = 10_000 - 22 * 4.0 * 100
    assert rest.area.sum() == pytest.approx(free)
    assert set(rest.reason) == {"row_margin"}


def test_ground_near_a_cut_piece_takes_its_reason():
    ground, beds = bare(MultiPolygon([box(0, 0, 100, 20)]))
    cut = cut_pieces(grade_limit=LineString([(0, 10), (40, 10)]))
    rest = leftover_ground(ground, beds, cut, spacing_m=5.0)
    area = rest.dissolve("reason").area
    # a piece of 40 m served 2.5 m on both sides and round its inner end
    assert area["grade_limit"] == pytest.approx(40 * 5 + 3.14159 * 2.5**2 / 2, rel=2e-3)
    assert area.sum() == pytest.approx(2000)


def test_ground_left_before_the_rows_stays_with_its_reason():
    boundary = MultiPolygon([box(0, 0, 20, 20)])
    before = UNPLANTED.frame({"reason": ["setback"], "area_m2": [100.0]}, geometry=[box(0, 0, 5, 20)], crs=UTM)
    ground = Ground(boundary, MultiPolygon([box(5, 0, 20, 20)]), before)
    rest = leftover_ground(ground, bare(boundary)[1], rows_of([]).cut, spacing_m=4.5)
    assert rest.reason.tolist() == ["setback", "row_margin"]
    assert rest.area_m2.tolist() == pytest.approx([100.0, 300.0])
