"""`check` refuses what `layout` would, in the same words, with file and line, before any row is laid."""

import geopandas as gpd
import numpy as np
import pytest
import yaml
from input_files import EAST, NORTH, slope_north, write_raster, write_vector
from shapely import LineString, box

import geoagro.pipeline.whole_layout
from geoagro.cli.failures import failure_of
from geoagro.cli.main import group

WEST, SOUTH = EAST, NORTH
DESIGN = """
name: invented
inputs:
  boundary: {file: field.gpkg}
  elevation: {file: dem.tif}
rows: {method: contour, spacing_m: 5.0, thorough: false}
beds: {path_width_m: 0.3}
plantings:
  - {crop: apple, bed: tree, spacing_m: 4.0}
  - {crop: lettuce, bed: vegetable, lines: 3}
"""
SHAPES = {
    "nursery": box(WEST + 5, SOUTH + 5, WEST + 30, SOUTH + 30),
    "beyond": box(WEST + 500, SOUTH, WEST + 520, SOUTH + 20),
    "edge": box(WEST, SOUTH, WEST + 60, SOUTH + 0.5),
}
LINES = {
    "rows": [LineString([(WEST + 3, SOUTH + y), (WEST + 57, SOUTH + y)]) for y in (10, 15, 20)],
    "far": [LineString([(WEST + 903, SOUTH + 10), (WEST + 957, SOUTH + 10)])],
}
DRAWN = {"rows": {"method": "drawn", "spacing_m": 5.0}}


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    place = tmp_path_factory.mktemp("check")
    write_vector(place / "field.gpkg", [box(WEST, SOUTH, WEST + 60, SOUTH + 40)])
    write_raster(place / "dem.tif", slope_north(shape=(100, 120)), units="m")
    write_raster(place / "slope.tif", np.full((100, 120), 8.0))
    for name, shape in SHAPES.items():
        gpd.GeoDataFrame({"name": [name]}, geometry=[shape], crs="EPSG:32633").to_file(place / "drawn.gpkg", layer=name)
    for name, lines in LINES.items():
        frame = gpd.GeoDataFrame({"row": range(1, len(lines) + 1)}, geometry=lines, crs="EPSG:32633")
        frame.to_file(place / "lines.gpkg", layer=name)
    return place


def given(layer):
    return {"file": "lines.gpkg", "layer": layer}


def zone(**more):
    return {"zones": [{"name": "z", "within": {"area": "nursery"}} | more]}


def season(**section):
    return {"start_date": "2027-04-01", "season": {"years": 2} | section}


def plant(*more, **first):
    return {"plantings": [{"crop": "apple", "bed": "tree", "spacing_m": 4.0} | first, *more]}


BEAN = {"crop": "lettuce", "bed": "vegetable"}
FAULTS = {
    "rows by hand off the field": ({"inputs": {"rows": given("far")}, **DRAWN}, "inputs.rows"),
    "rows by hand in no such layer": ({"inputs": {"rows": given("none")}, **DRAWN}, "inputs.rows"),
    "ground to lay anew off the field": (
        {"inputs": {"rows": given("rows")}, "rows": {"only_where": {"file": "drawn.gpkg", "layer": "beyond"}}},
        "rows.only_where",
    ),
    "ground to lay anew in the setback": (
        {"inputs": {"rows": given("rows")}, "rows": {"only_where": {"file": "drawn.gpkg", "layer": "edge"}}},
        "rows.only_where",
    ),
    "a row number that isn't drawn": (
        {"inputs": {"rows": given("rows")}, **DRAWN, **plant(BEAN | {"within": {"rows": 9}})},
        "within.rows",
    ),
    "an alley that isn't there": (
        {"inputs": {"rows": given("rows")}, **DRAWN, "beds": {"skip": {"alleys": 40}}},
        "beds.skip.alleys",
    ),
    "a zone in an area that isn't drawn": (
        {"zones": [{"name": "z", "within": {"area": "nursary"}}]},
        "zones[1].within",
    ),
    "an area off the field": (
        {"inputs": {"areas": [{"name": "z", "file": "drawn.gpkg", "layer": "beyond"}]}},
        "area 'z'",
    ),
    "a zone in the setback": ({"zones": [{"name": "z", "within": {"area": "edge"}}]}, "zones[1].within"),
    "an exception in an area that isn't drawn": (
        plant(BEAN | {"within": {"rows": 1, "except": {"area": "nursary"}}}),
        "within",
    ),
    "a planting in an area that isn't drawn": (plant(BEAN | {"within": {"area": "nursary"}}), "within"),
    "beds skipped in an area that isn't drawn": ({"beds": {"skip": {"area": "nursary"}}}, "beds.skip"),
    "a planting in a zone that isn't there": (zone() | plant(BEAN | {"zone": "y"}), "zone 'y'"),
    "a planting in a bare zone": (zone(purpose="grass") | plant(BEAN | {"zone": "z"}), "zone 'z' is bare"),
    "tree beds of a zone that meet": (zone(beds={"tree_bed_width_m": 4.8}), "tree_bed_width_m"),
    "a path of a zone that narrows upward": (zone(beds={"narrowest_path_m": 2}), "narrowest_path_m"),
    "a zone too small for its rows": (zone(spacing_m=5, min_row_length_m=80), "zones[1].spacing_m"),
    "rows of a zone too close to work with": (
        zone(spacing_m=0.001, beds={"tree_bed_width_m": 0.0005}),
        "zones[1].spacing_m",
    ),
    "tree beds that meet": ({"beds": {"tree_bed_width_m": 4.8}}, "beds.tree_bed_width_m"),
    "a crop that nobody knows": (plant(BEAN | {"crop": "lettucce"}), "lettucce"),
    "after what isn't there": (plant(BEAN | {"after": "peas"}), "peas"),
    "after in a circle": (plant(BEAN | {"name": "a", "after": "b"}, BEAN | {"name": "b", "after": "a"}), "circle"),
    "beside what isn't there": (plant(BEAN | {"beside": {"planting": "x", "where": "ahead", "distance_m": 0.2}}), "x"),
    "lines outside their bed": (plant(BEAN | {"offsets_m": [0.9]}), "offsets_m"),
    "lines outside the zone's bed": (
        zone(beds={"bed_width_m": 0.5}, plantings=[BEAN | {"name": "wide", "offsets_m": [0.4]}]),
        "offsets_m",
    ),
    "instead of what isn't there": (plant(BEAN | {"instead_of": "maize"}), "maize"),
    "a cover crop that nobody knows": (season(free_beds={"cover": ["jackbean"]}), "Did you mean jack_bean"),
    "prices of a crop that isn't there": (season(crops={"lettucce": {"price": 1}}), "Did you mean lettuce"),
    "prices of a crop that isn't planted": (season(crops={"mango": {"price": 1}}), "the library has it"),
    "rains for a crop that isn't planted": (
        season(windows=[{"name": "r", "kind": "rains", "first": "03-01", "last": "05-01", "crops": ["aple"]}]),
        "season.windows[1].crops",
    ),
    "an interval of a planting that isn't there": (
        season(vegetables={"by_planting": {"letuce": 52}}),
        "Did you mean lettuce",
    ),
    "years without a family that isn't there": (season(rotation_years={"Solanacea": 3}), "Did you mean Solanaceae"),
    "rates of a material that isn't there": (season(hours={"plant_h": {"seeds": 0.1}}), "season.hours.plant_h.seeds"),
    "rates of a habit that isn't there": (season(hours={"prune_h": {"trees": 0.1}}), "season.hours.prune_h.trees"),
    "a measured yield of another crop": (
        plant(BEAN | {"measured_yield_kg": {"maize": [0.1, 0.2, 0.3]}}),
        "measured_yield_kg names 'maize'",
    ),
    "values of a crop that isn't there": ({"crops": {"letuce": {"spacing_m": 0.3}}}, "crops.letuce"),
    "two plantings of one name": (plant(BEAN, BEAN), "given twice"),
    "two faults at once": (zone(beds={"tree_bed_width_m": 4.8}) | plant(BEAN | {"offsets_m": [0.9]}), "offsets_m"),
}
SLOPE_ALONE = {
    "contour rows on a slope without heights": ({}, "rows.method: contour"),
    "plants that face downhill on a slope without direction": (
        {"rows": {"method": "straight", "spacing_m": 5.0}} | plant(direction="downhill"),
        "direction downhill",
    ),
}


def written(folder, changes, *, slope=False):
    design = yaml.safe_load(DESIGN)
    design["inputs"]["areas"] = [{"name": name, "file": "drawn.gpkg", "layer": name} for name in ("nursery", "edge")]
    for key, value in changes.items():
        design[key] = design[key] | value if isinstance(design.get(key), dict) else value
    if slope:
        design["inputs"].pop("elevation")
        design["inputs"]["slope"] = {"file": "slope.tif", "unit": "percent"}
    path = folder / "faulty.yaml"
    path.write_text(yaml.safe_dump(design, sort_keys=False))
    return path


def told(command, path):
    try:
        group(args=[command, str(path)], prog_name="geoagro", standalone_mode=False)
    except BaseException as error:
        failure = failure_of(error)
        return failure.exit_code, [problem.text for problem in failure.problems]
    return 0, []


@pytest.fixture
def no_rows(monkeypatch):
    """Nothing is laid: a fault that only shows then would be no match."""

    def refuse(*_, **__):
        raise AssertionError("rows were laid")

    monkeypatch.setattr(geoagro.pipeline.whole_layout, "tree_rows_of", refuse)


@pytest.mark.parametrize("name", [name for name in FAULTS if "isn't drawn" not in name or "area" in name])
@pytest.mark.usefixtures("no_rows")
def test_check_and_layout_refuse_the_same_before_rows_are_laid(folder, name):
    if name == "an alley that isn't there":
        pytest.skip("known on drawn beds only")
    changes, says = FAULTS[name]
    _same(folder, changes, says)


@pytest.mark.parametrize("name", ["a row number that isn't drawn", "an alley that isn't there"])
def test_numbers_are_known_where_all_rows_are_drawn(folder, name):
    _same(folder, *FAULTS[name])


STRAIGHT = {"rows": {"method": "straight", "bearing_deg": 90, "spacing_m": 5.0}}
NUMBERED = {
    "a row": (plant(BEAN | {"within": {"except": {"rows": 500}}}), "within.except.rows"),
    "a bed": ({"beds": {"skip": {"beds": "R099-U1"}}}, "beds.skip.beds"),
}


@pytest.mark.parametrize("name", NUMBERED)
def test_numbers_are_known_where_rows_are_straight_too(folder, name):
    changes, says = NUMBERED[name]
    _same(folder, STRAIGHT | changes, says)


@pytest.mark.parametrize("name", SLOPE_ALONE)
@pytest.mark.usefixtures("no_rows")
def test_a_slope_without_direction_is_refused_by_both(folder, name):
    _same(folder, *SLOPE_ALONE[name], slope=True)


def _same(folder, changes, says, *, slope=False):
    path = written(folder, changes, slope=slope)
    code, lines = told("check", path)
    assert code not in {0, 70}, lines
    problems = [line for line in lines if says in line]
    assert problems, lines
    layout_code, layout_lines = told("layout", path)
    assert layout_code == code
    assert problems[0] in layout_lines
    assert "faulty.yaml:" in problems[0] or says in {"inputs.rows"}, problems[0]


def test_what_check_calls_ready_is_laid_out(folder):
    path = written(folder, zone(spacing_m=4.5, min_row_length_m=8) | {"output": {"folder": "ready"}})
    code, lines = told("check", path)
    assert code == 0, lines
    code, lines = told("layout", path)
    assert code == 0, lines
