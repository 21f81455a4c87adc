"""The doors of the public steps: everything in one CRS, every layer with its columns."""

import inspect
from dataclasses import fields, is_dataclass, replace

import geopandas as gpd
import pytest
from builders import square_site
from pyproj import CRS

import geoagro
from geoagro import example_field, lay_out, read_crop_library, stakes_of
from geoagro.errors import CrsError, LayoutError
from geoagro.values.base.doors import check_layers, crs_in

OTHER = CRS.from_epsg(32634)
PLACED = {
    "Site", "GroundSource", "Terrain", "Ground", "TreeRows", "Beds", "Plants", "Layout", "LaidOut", "StakeOut", "Survey",
    "RowPlan", "MapData", "Difficulty", "AsBuilt", "Account", "gpd.GeoDataFrame", "CRS",
}  # fmt: skip
"""Types that lie somewhere on the ground, as annotations name them."""
FREE = {
    "read_survey": "brings the survey into the CRS of the field",
    "read_plots": "compares the file with the CRS that it is given",
}


def placed(step):
    """Names of the arguments of a step that lie somewhere on the ground."""
    kinds = {name: str(p.annotation).split(" |")[0] for name, p in inspect.signature(step).parameters.items()}
    return [name for name, kind in kinds.items() if kind in PLACED]


STEPS = [
    name
    for name in sorted(geoagro.__all__)
    if inspect.isfunction(getattr(geoagro, name)) and placed(getattr(geoagro, name)) and name not in FREE
]
PAIRS = [
    (name, moved)
    for name in STEPS
    for moved in placed(getattr(geoagro, name))
    if len(placed(getattr(geoagro, name))) > 1
]


def in_crs(crs):
    """Anything that lies on the ground in a CRS."""
    return gpd.GeoDataFrame({"row": []}, geometry=gpd.GeoSeries([], crs=crs), crs=crs)


def call(step, moved=None):
    """Call a step with nothing but things that lie somewhere, one of them in another CRS than the rest."""
    given = dict.fromkeys(
        name for name, p in inspect.signature(step).parameters.items() if p.default is inspect.Parameter.empty
    )
    return step(**given | {name: in_crs(OTHER if name == moved else square_site().crs) for name in placed(step)})


def test_the_steps_that_are_looked_at_are_the_steps_of_the_work():
    assert {"terrain_of", "ground_of", "tree_rows_of", "beds_of", "plants_of", "lay_out", "rows_of"} <= set(STEPS)
    assert {"stakes_of", "plots_of", "built_of", "season_of", "account_of", "water_of", "difficulty_of"} <= set(STEPS)
    assert {"write_map", "write_report", "write_stakes", "write_season", "write_layout", "bed_light_of"} <= set(STEPS)
    assert len(PAIRS) > 30


@pytest.mark.parametrize(("name", "moved"), PAIRS)
def test_a_step_refuses_whatever_lies_in_another_crs(name, moved):
    with pytest.raises(
        CrsError, match=r"in EPSG:3263[34] can't go with .* in EPSG:3263[34]\. Bring both into one working CRS first\."
    ):
        call(getattr(geoagro, name), moved)


@pytest.fixture(scope="module")
def laid():
    return lay_out(*example_field(), read_crop_library())


def shifted(value):
    """The same value with everything in it said to lie in another CRS."""
    if isinstance(value, CRS):
        return OTHER
    if isinstance(value, gpd.GeoDataFrame):
        return value.set_crs(OTHER, allow_override=True)
    if is_dataclass(value):
        return replace(value, **{f.name: shifted(getattr(value, f.name)) for f in fields(value) if f.init})
    return value


@pytest.mark.parametrize("part", ["site", "terrain", "ground", "rows", "beds", "plants"])
def test_a_layout_with_one_part_in_another_crs_is_refused(laid, part, tmp_path):
    mixed = replace(laid, **{part: shifted(getattr(laid, part))})
    with pytest.raises(CrsError, match="Parts of layout lie in EPSG:3263"):
        geoagro.write_layout(mixed, tmp_path / "result")
    assert not (tmp_path / "result").exists()


def test_every_value_of_a_layout_tells_its_crs(laid):
    for name in ("site", "terrain", "ground", "rows", "beds", "plants"):
        assert list(crs_in(getattr(laid, name))), name
        assert set(map(str, crs_in(shifted(getattr(laid, name))))) == {str(OTHER)}, name


def test_a_layer_without_a_column_is_refused_by_name(laid):
    rows = replace(laid.rows, frame=laid.rows.frame.drop(columns="length_m"))
    with pytest.raises(LayoutError, match=r"tree_rows: missing columns \['length_m'\]"):
        geoagro.beds_of(laid.design, laid.ground, rows)


def test_a_layer_with_other_geometry_is_refused_by_name(laid):
    beds = replace(laid.beds, beds=laid.beds.beds.set_geometry(laid.beds.beds.centroid))
    with pytest.raises(LayoutError, match="beds takes Polygon, found"):
        geoagro.plants_of(laid.design, laid.terrain, beds, {})


def test_whole_values_pass(laid):
    stakes = stakes_of(laid.design, laid.site, laid.rows, laid.beds, laid.terrain)
    for part in (laid, stakes):
        check_layers(part)
