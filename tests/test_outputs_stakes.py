"""Files for the field: valid, in the right order and place, and printed true to scale."""

import json
import re
import zlib
from dataclasses import replace
from types import SimpleNamespace
from xml.etree import ElementTree

import ezdxf
import numpy as np
import pandas as pd
import pyogrio
import pytest
import shapely
from _pytest.monkeypatch import MonkeyPatch
from builders import UTM, square_site, straight_beds, straight_rows
from ezdxf.audit import Auditor
from hypothesis import given, settings
from hypothesis import strategies as st
from page_texts import page_texts
from pypdf import PdfReader
from pyproj import CRS, Proj
from stakeout_builders import EAST, NORTH, StakeRule, arc_rows, beds_of, plane, pond

from geoagro import example_layout, stakes_of
from geoagro.crs import WGS84, transform_points
from geoagro.errors import OutputError
from geoagro.inputs.laid.stakes_file import earlier_marks
from geoagro.outputs.drawing.paper import Page
from geoagro.outputs.stakes import dxf
from geoagro.outputs.stakes import files as stake_files
from geoagro.outputs.stakes.files import write_stakes
from geoagro.outputs.stakes.grid_scale import grid_scale, scale_sentence
from geoagro.outputs.stakes.places import places_of
from geoagro.outputs.stakes.pocket_list import _lines
from geoagro.outputs.stakes.procedure_page import write_procedure
from geoagro.outputs.stakes.sheet_map import Content, draw_map, row_boxes, row_names_apart
from geoagro.outputs.stakes.sheet_names import NAME_PT, place_names
from geoagro.outputs.stakes.sheet_panel import draw_panel
from geoagro.outputs.stakes.sheet_plan import PAPERS_MM, map_frame, plan_sheets
from geoagro.outputs.stakes.sheets import more_names_page
from geoagro.outputs.words.say import Words
from geoagro.stakeout import labels
from geoagro.stakeout.stake_out import stake_out
from geoagro.values.site import Site
from geoagro.values.stakeout import STAKE_KINDS, TAPE

MM_PER_POINT = 25.4 / 72
GPX = "{http://www.topografix.com/GPX/1/1}"
# order of the children of a waypoint in the published schema (xsd:sequence of wptType, GPX 1.1)
WAYPOINT_ORDER = [
    *("ele", "time", "magvar", "geoidheight", "name", "cmt", "desc", "src", "link", "sym", "type", "fix", "sat"),
    *("hdop", "vdop", "pdop", "ageofdgpsdata", "dgpsid", "extensions"),
]


def pdf_text(path):
    return "\n".join(page_texts(path))


def staked(rule, rows=None, site=None, terrain=None):
    rows = rows or straight_rows()
    beds = straight_beds(rows) if rows.frame["length_m"].iloc[0] == 100 else beds_of(rows, end_m=4.0)
    return stake_out(rows, beds, site or square_site(), terrain, rule), rows


@pytest.fixture(scope="module")
def written(tmp_path_factory):
    folder, rule = tmp_path_factory.mktemp("result") / "stakes", StakeRule(scale=500)
    stakes, rows = staked(rule, terrain=plane())
    write_stakes(stakes, rows, square_site(), rule, folder)
    return stakes, folder


def test_the_gpx_follows_the_published_schema(written):
    root = ElementTree.parse(written[1] / "stakes.gpx").getroot()
    assert root.tag == f"{GPX}gpx"
    assert (root.get("version"), bool(root.get("creator"))) == ("1.1", True)
    kinds = [child.tag.removeprefix(GPX) for child in root]
    assert kinds == sorted(kinds, key=["metadata", "wpt", "rte", "trk", "extensions"].index)
    for point in [*root.iter(f"{GPX}wpt"), *root.iter(f"{GPX}rtept"), *root.iter(f"{GPX}trkpt")]:
        assert -180 <= float(point.get("lon")) < 180
        assert -90 <= float(point.get("lat")) <= 90
        children = [child.tag.removeprefix(GPX) for child in point]
        assert children == sorted(children, key=WAYPOINT_ORDER.index)
        assert len(point.get("lat").split(".")[1]) >= 6


def test_the_gpx_holds_marks_in_walking_order_and_a_route_per_row(written):
    stakes, folder = written
    root = ElementTree.parse(folder / "stakes.gpx").getroot()
    names = [point.find(f"{GPX}name").text for point in root.findall(f"{GPX}wpt")]
    assert names == stakes.marks.sort_values("walk")["stake"].tolist()
    routes = root.findall(f"{GPX}rte")
    assert len(routes) == 22
    assert [p.find(f"{GPX}name").text for p in routes[3].findall(f"{GPX}rtept")] == [
        f"4-{k:03d}" for k in (0, 25, 50, 75, 100)
    ]
    first = stakes.marks.set_index("stake").loc["1-000"]
    ele = root.find(f"{GPX}rte/{GPX}rtept/{GPX}ele").text
    assert float(ele) == pytest.approx(first["z"], abs=1e-3)
    # every waypoint and every point of a route carries the height of its own mark (ele: metres, GPX 1.1)
    heights = stakes.marks.set_index("stake")["z"]
    for point in [*root.findall(f"{GPX}wpt"), *root.findall(f"{GPX}rte/{GPX}rtept")]:
        assert float(point.find(f"{GPX}ele").text) == pytest.approx(heights[point.find(f"{GPX}name").text], abs=1e-3)


def test_point_lists_are_in_the_order_that_their_name_says(written):
    stakes, folder = written
    names = ["p", "a", "b", "z", "d"]
    pnezd = pd.read_csv(folder / "stakes_northing_first.csv", header=None, names=names)
    penzd = pd.read_csv(folder / "stakes_easting_first.csv", header=None, names=names)
    assert pnezd["a"].tolist() == penzd["b"].tolist() == pytest.approx(stakes.marks["y"].tolist(), abs=1e-3)
    assert pnezd["b"].tolist() == penzd["a"].tolist() == pytest.approx(stakes.marks["x"].tolist(), abs=1e-3)
    assert pnezd["p"].tolist() == stakes.marks["stake"].tolist()
    assert pnezd["d"].iloc[0] == "row 1: row end; R001-U1 begins; R001-D1 begins"
    assert b"\r\n" in (folder / "stakes_northing_first.csv").read_bytes()


def test_every_format_puts_the_marks_at_the_same_place(written):
    stakes, folder = written
    lon, lat = transform_points(stakes.marks["x"], stakes.marks["y"], UTM, WGS84)
    kml = pyogrio.read_dataframe(folder / "stakes.kml", layer="stakes")
    features = json.loads((folder / "stakes.geojson").read_text())["features"]
    geojson = np.array([feature["geometry"]["coordinates"] for feature in features])
    listed = pd.read_csv(folder / "stakes.csv").set_index("stake").loc[stakes.marks["stake"]]
    for x, y in (
        (shapely.get_x(kml.geometry), shapely.get_y(kml.geometry)),
        (geojson[:, 0], geojson[:, 1]),
        (listed["lon"], listed["lat"]),
    ):
        assert np.asarray(x) == pytest.approx(lon, abs=2e-8)
        assert np.asarray(y) == pytest.approx(lat, abs=2e-8)
    assert kml["Name"].tolist() == stakes.marks["stake"].tolist()
    assert len(pyogrio.read_dataframe(folder / "stakes.kml", layer="rows")) == 22


def test_the_drawing_has_a_layer_per_kind_and_no_faults(written):
    stakes, folder = written
    drawing = ezdxf.readfile(folder / "stakes.dxf")
    auditor = Auditor(drawing)
    auditor.run()
    assert auditor.errors == []
    assert drawing.units == ezdxf.units.M
    ends = drawing.modelspace().query("POINT[layer=='STAKES_ROW_END']")
    assert len(ends) == (stakes.marks["kind"] == "row_end").sum() == 44
    assert len(drawing.modelspace().query("LWPOLYLINE[layer=='ROWS']")) == 22
    place = ends[0].dxf.location
    assert (place.x, place.y, place.z) == pytest.approx((EAST, NORTH + 97.75, 109.775), abs=1e-3)
    assert {text.dxf.text for text in drawing.modelspace().query("TEXT[layer=='NAMES']")} == set(stakes.marks["stake"])


def test_marks_read_back_keep_their_names_at_the_next_run(written):
    stakes, folder = written
    earlier = earlier_marks(folder.parent, UTM)
    assert earlier["stake"].tolist() == stakes.marks["stake"].tolist()
    again = stake_out(
        straight_rows(), straight_beds(straight_rows()), square_site(), plane(), StakeRule(), earlier=earlier
    )
    assert again.marks["stake"].tolist() == stakes.marks["stake"].tolist()
    assert earlier_marks(folder / "elsewhere", UTM) is None


def test_what_stands_there_is_kept_when_writing_fails(written, tmp_path, monkeypatch):
    stakes, _ = written
    rule = StakeRule(scale=500)
    write_stakes(stakes, straight_rows(), square_site(), rule, tmp_path)
    before = {path.name: path.read_bytes() for path in tmp_path.iterdir() if path.is_file()}

    def full(*_args, **_options):
        raise OSError("No space left on device")

    monkeypatch.setattr(stake_files, "write_about", full)
    with pytest.raises(OutputError, match="No space left"):
        write_stakes(stakes, straight_rows(), square_site(), rule, tmp_path)
    assert before == {path.name: path.read_bytes() for path in tmp_path.iterdir() if path.is_file()}


def test_the_same_stakes_give_the_same_bytes(written, tmp_path):
    stakes, folder = written
    write_stakes(stakes, straight_rows(), square_site(), StakeRule(scale=500), tmp_path)
    for path in folder.iterdir():
        if path.is_file():
            assert path.read_bytes() == (tmp_path / path.name).read_bytes(), path.name


def test_degrees_are_refused_for_lists_of_northing_and_easting(written, tmp_path):
    stakes, _ = written
    with pytest.raises(OutputError, match=r"stakeout\.crs: EPSG:4326 .* is in degrees.* Name a projected CRS"):
        write_stakes(stakes, straight_rows(), square_site(), StakeRule(scale=500, crs="EPSG:4326"), tmp_path)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("crs", "metres", "code"), [("EPSG:32633", 1.0, 6), ("EPSG:2263", 1200 / 3937, 21), ("EPSG:2222", 0.3048, 2)]
)
def test_the_drawing_says_its_unit_and_where_it_lies(tmp_path, crs, metres, code):
    """Codes of $INSUNITS: 6 metres, 2 feet, 21 US survey feet (the format's published reference, from memory)."""
    rows = straight_rows()
    stakes, _ = staked(StakeRule(), rows=rows, terrain=plane())
    site = square_site()
    places = replace(places_of(stakes.marks["x"], stakes.marks["y"], UTM, None), crs=CRS(crs))
    moved = replace(places, east=places.east / metres, north=places.north / metres)
    with MonkeyPatch.context() as patch:
        patch.setattr(dxf, "transform_geometries", lambda shapes, *_: shapely.transform(shapes, lambda xy: xy / metres))
        dxf.write_dxf(tmp_path / "a.dxf", stakes, rows, site, moved, beds=straight_beds(rows))
    drawing = ezdxf.readfile(tmp_path / "a.dxf")
    assert drawing.header["$INSUNITS"] == code
    low, high = drawing.header["$EXTMIN"], drawing.header["$EXTMAX"]
    assert low[0] <= EAST / metres < high[0]
    assert high[0] - low[0] == pytest.approx(100 / metres, rel=0.1)
    assert drawing.header["$PDMODE"] != 0
    assert drawing.viewports.get("*Active")[0].dxf.center.x == pytest.approx((low[0] + high[0]) / 2)
    space = drawing.modelspace()
    assert len(space.query("LWPOLYLINE[layer=='TREE_BEDS']")) == 22
    assert len(space.query("LWPOLYLINE[layer=='VEGETABLE_BEDS']")) == 44
    assert [t.dxf.text for t in space.query("TEXT[layer=='ROW_NUMBERS']")] == [str(k) for k in range(1, 23)]
    assert space.query("POINT")[0].dxf.location.z == pytest.approx(stakes.marks["z"].iloc[0] / metres)


def test_heights_that_are_not_known_are_empty_and_never_sea_level(tmp_path):
    rows = arc_rows(4)
    stakes, _ = staked(StakeRule(), rows=rows, terrain=None)
    write_stakes(stakes, rows, square_site(), StakeRule(), tmp_path)
    table = pd.read_csv(tmp_path / "stakes_northing_first.csv", header=None)
    assert table[3].isna().all()
    layers = {point.dxf.layer for point in ezdxf.readfile(tmp_path / "stakes.dxf").modelspace().query("POINT")}
    assert layers
    assert all(layer.endswith("_NO_HEIGHT") for layer in layers)


def test_every_list_ends_its_lines_and_is_encoded_the_same_way(written):
    for path in written[1].glob("*.csv"):
        raw = path.read_bytes()
        assert raw.count(b"\n") == raw.count(b"\r\n") > 0, path.name
        raw.decode("utf-8")


def test_places_in_kml_have_a_look_of_their_kind(written):
    stakes, folder = written
    space = {"k": "http://www.opengis.net/kml/2.2"}  # OGC 12-007r2
    root = ElementTree.parse(folder / "stakes.kml").getroot()
    styles = {style.get("id") for style in root.findall(".//k:Style", space)}
    used = [url.text for url in root.findall(".//k:styleUrl", space)]
    assert {url.removeprefix("#") for url in used} <= styles
    assert used.count("#row_end") == (stakes.marks["kind"] == "row_end").sum()
    assert len({colour.text for colour in root.findall(".//k:IconStyle/k:color", space)}) == len(styles) - 1
    assert root.find(".//k:href", space) is None


@pytest.mark.parametrize("scale", ["auto", 1000])
@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_every_stake_has_its_name_on_the_sheets_and_no_two_touch(scale, paper):
    rows = arc_rows(14, radius_m=12.0)
    stakes, _ = staked(StakeRule(scale=scale, paper=paper), rows=rows)
    site = square_site()
    plan = plan_sheets(
        stakes.marks, rows.frame.geometry.to_numpy(), rows.spacing_m, StakeRule(scale=scale, paper=paper)
    )
    content = Content(stakes, rows, site, grid_scale(UTM, EAST, NORTH, 100.0), ())
    named = set()
    for sheet in plan.sheets:
        page = Page(*PAPERS_MM[paper], name="sheet")
        names = draw_map(page, map_frame(paper), content, plan, sheet)
        boxes = np.array([one.box for one in names.drawn], dtype=object)
        first, second = shapely.STRtree(boxes).query(boxes, predicate="intersects")
        assert (first == second).all()
        mine = stakes.marks[shapely.contains_xy(sheet.ground, stakes.marks["x"], stakes.marks["y"])]
        assert len(names.drawn) + sum(len(texts) for _, texts in names.listed) == len(mine)
        more = [(sheet.number, draw_panel(page, content, plan, sheet, names.listed))]
        pages = 0
        while more and more[0][1]:  # what finds no room beside the map goes on pages of its own
            _, more = more_names_page(content, plan, more)
            pages += 1
            assert pages < 20
        named |= set(mine["stake"])
    assert named == set(stakes.marks["stake"])


@settings(max_examples=30, deadline=None)
@given(st.lists(st.tuples(st.integers(1, 30), st.floats(-5, 105), st.floats(-5, 85)), min_size=1, max_size=25))
def test_names_of_rows_stay_in_the_map_and_off_each_other(places):
    wanted = [(str(row), x, y) for row, x, y in places]
    kept = row_names_apart(wanted, (0.0, 0.0, 100.0, 80.0), 0.25)
    boxes = np.array(row_boxes(kept, 0.25), dtype=object)
    assert shapely.covered_by(boxes, shapely.box(-1e-9, -1e-9, 100 + 1e-9, 80 + 1e-9)).all()
    assert {label for label, _, _ in kept} == {label for label, _, _ in wanted}
    crowded = len(wanted) > 4  # as many find room even in a corner
    pairs = shapely.STRtree(boxes).query(boxes, predicate="intersects")
    assert crowded or (pairs[0] == pairs[1]).all()


def test_names_take_the_room_that_they_are_drawn_with():
    """The box that is kept free for a name holds the letters as the drawing library sets them."""
    page = Page(100, 100, name="sheet")
    text = page.figure.text(0.5, 0.5, "035", fontsize=NAME_PT)
    page.figure.canvas.draw()
    drawn = text.get_window_extent().width / page.figure.dpi * 25.4
    marks = staked(StakeRule(), rows=arc_rows(2))[0].marks
    one = place_names(marks.head(1).assign(mark="1-035"), [], 1.0, shapely.Point(EAST, NORTH).buffer(1e4)).drawn[0]
    sides = np.hypot(*np.diff(shapely.get_coordinates(one.box), axis=0).T)
    assert drawn <= sides.max() <= 1.4 * drawn


def test_the_files_say_what_they_hold(written):
    text = (written[1] / "about.txt").read_text()
    assert "CRS EPSG:32633 WGS 84 / UTM zone 33N; unit metre" in text
    assert "grid scale factor: 0.9996" in text
    assert "Heights: a plane built by a test" in text
    assert "first, as the base row" in text


# coordinates


@pytest.mark.parametrize(
    ("lon", "lat", "zone", "east", "north"),
    [
        (74.75, 33.5, 32643, 476778.627, 3706747.182),  # a satellite tool kit's help, MapGridPoint: 476779, 3706747
        (44.4, 33.3, 32638, 444140.545, 3684706.356),  # GeoConvert manual's example
        (3.0, 0.0, 32631, 500000.0, 0.0),  # by definition
    ],
)
def test_utm_and_degrees_agree_with_published_coordinates(lon, lat, zone, east, north):
    x, y = transform_points(lon, lat, WGS84, CRS.from_epsg(zone))
    assert (float(x), float(y)) == pytest.approx((east, north), abs=1e-3)
    places = places_of(np.array([east]), np.array([north]), CRS.from_epsg(zone), "EPSG:4326")
    assert (places.lon[0], places.lat[0]) == pytest.approx((lon, lat), abs=1e-8)
    assert places.decimals == 8


def test_another_crs_is_used_where_the_user_asks_for_it():
    places = places_of(np.array([EAST]), np.array([NORTH]), UTM, "EPSG:32632")
    x, _ = transform_points(EAST, NORTH, UTM, CRS.from_epsg(32632))
    assert places.east[0] == pytest.approx(float(x))
    assert places.crs_name.startswith("EPSG:32632")


@pytest.mark.parametrize(("east", "expected"), [(500_000.0, 0.9996), (680_000.0, 1.0000)])
def test_the_scale_factor_agrees_with_projs_own(east, expected):
    x, y = transform_points(east, NORTH, UTM, WGS84)
    factors = Proj(UTM).get_factors(float(x), float(y))
    found = grid_scale(UTM, east, NORTH)
    assert found.grid == pytest.approx(factors.meridional_scale, abs=1e-7)
    assert found.grid == pytest.approx(expected, abs=2e-5)  # UTM: 0.9996 in the middle, 1 about 180 km beside it
    assert found.convergence_deg == pytest.approx(factors.meridian_convergence, abs=1e-3)


def test_height_makes_the_map_smaller_than_the_ground():
    low, high = grid_scale(UTM, EAST, NORTH, 0.0), grid_scale(UTM, EAST, NORTH, 637.1)
    assert high.combined / low.combined == pytest.approx(1 / 1.0001, rel=1e-8)
    assert "50 mm shorter on the map" in scale_sentence(high)


# paper


def drawn_lines(path, page):
    """All straight lines of a page as drawn in the PDF, in millimetres of paper."""
    streams = re.findall(rb"stream\r?\n(.*?)endstream", path.read_bytes(), re.DOTALL)
    contents = []
    for stream in streams:
        try:
            text = zlib.decompress(stream.strip())
        except zlib.error:
            continue
        if b" m\n" in text and b" l\n" in text and b"BT" in text:
            contents.append(text.decode("latin-1"))
    found = re.findall(r"([-\d.]+) ([-\d.]+) m\n([-\d.]+) ([-\d.]+) l\n", contents[page])
    return np.array(found, dtype=float) * MM_PER_POINT


@pytest.mark.parametrize(("paper", "size"), [("a4", (297.0, 210.0)), ("letter", (279.4, 215.9))])
@pytest.mark.parametrize("scale", [250, 500])
def test_a_sheet_is_true_to_scale_on_the_paper_asked_for(tmp_path, paper, size, scale):
    rule = StakeRule(paper=paper, scale=scale)
    rows = straight_rows(size_m=100.0, spacing_m=25.0)
    stakes, _ = staked(rule, rows=rows)
    write_stakes(stakes, rows, square_site(), rule, tmp_path)
    pdf = tmp_path / "sheets.pdf"
    box = re.search(rb"/MediaBox \[ 0 0 ([\d.]+) ([\d.]+) \]", pdf.read_bytes())
    assert [float(v) * MM_PER_POINT for v in box.groups()] == pytest.approx(size, abs=0.01)
    lines = drawn_lines(pdf, 1)
    level = lines[np.abs(lines[:, 1] - lines[:, 3]) < 1e-6]
    heights = np.unique(np.round(level[level[:, 2] - level[:, 0] > 20][:, 1], 3))
    rows_apart = 25.0 * 1000 / scale
    assert any(np.abs(np.subtract.outer(heights, heights) - rows_apart).ravel() < 0.02)


def test_parts_after_the_tenth_are_told_in_type_as_large_as_the_rest(tmp_path):
    rows = straight_rows(size_m=100.0, spacing_m=5.0)
    site, rule = square_site(), StakeRule()
    stakes, _ = staked(rule, rows=rows)
    many = pd.concat([stakes.walk.head(1)] * 14, ignore_index=True)
    many["day_trip"] = range(1, 15)
    days = stakes.marks.assign(day_trip=np.arange(len(stakes.marks)) % 14 + 1)
    write_stakes(replace(stakes, walk=many, marks=days), rows, site, rule, tmp_path)
    sizes = {}

    def note(text, _cm, matrix, _font, size):
        for number in range(11, 15):
            if text.strip().startswith(f"{number}: day"):
                sizes[number] = size * matrix[0]

    for page in PdfReader(tmp_path / "sheets.pdf").pages[:2]:
        page.extract_text(visitor_text=note)
    assert set(sizes) == {11, 12, 13, 14}
    assert min(sizes.values()) >= 7


def test_sheets_cover_every_row_and_are_few():
    rows = arc_rows(16)
    rule = StakeRule()
    stakes, _ = staked(rule, rows=rows)
    plan = plan_sheets(stakes.marks, rows.frame.geometry.to_numpy(), 4.5, rule)
    together = shapely.union_all([sheet.ground for sheet in plan.sheets])
    assert shapely.covers(together, rows.frame.geometry.to_numpy()).all()
    assert [sheet.number for sheet in plan.sheets] == list(range(1, len(plan.sheets) + 1))
    frame = map_frame("a4")
    one = plan.sheets[0].ground.bounds
    assert one[2] - one[0] == pytest.approx(frame.width * plan.scale / 1000)
    assert one[3] - one[1] == pytest.approx(frame.height * plan.scale / 1000)
    assert plan.scale == 500


def test_a_scale_that_needs_hundreds_of_sheets_is_refused():
    rows = straight_rows(size_m=3000.0, spacing_m=50.0)
    rule = StakeRule(scale=100)
    marks = pd.DataFrame({"tape_m": [25.0]})
    with pytest.raises(OutputError, match="needs more than 400 sheets"):
        plan_sheets(marks, rows.frame.geometry.to_numpy(), 50.0, rule)


def test_sheets_with_ponds_and_heights_unknown_are_written(tmp_path):
    rows = arc_rows(4)
    site = Site("An invented field", square_site().boundary, (pond(45, 50),), (), UTM)
    stakes, _ = staked(StakeRule(), rows=rows, site=site)
    write_stakes(stakes, rows, site, StakeRule(), tmp_path)
    assert "Where a height is not known" in (tmp_path / "about.txt").read_text()
    assert "<ele>" not in (tmp_path / "stakes.gpx").read_text()


def test_every_kind_of_stake_looks_and_reads_differently_wherever_it_is_told():
    kinds = list(STAKE_KINDS.values())
    for told in (lambda k: k.words, lambda k: k.brief, lambda k: k.rank, lambda k: (k.shape, k.is_filled)):
        assert len({told(kind) for kind in kinds}) == len(kinds)
    assert max(len(kind.brief) for kind in kinds) <= 16  # the room on a card of the pocket list


def test_the_page_of_the_procedure_tells_every_step_and_shows_its_points(tmp_path):
    rows = straight_rows()
    stakes, _ = staked(StakeRule(), rows=rows, terrain=plane())
    content = Content(stakes, rows, square_site(), grid_scale(UTM, EAST, NORTH, 100.0), ())
    assert write_procedure(tmp_path / "a.pdf", content, paper="a4") == 1
    text = pdf_text(tmp_path / "a.pdf")
    for step in stakes.procedure.steps.itertuples():
        assert f"{step.step}. " in text
    for name in stakes.procedure.steps.loc[stakes.procedure.steps["kind"] == "peg", "start"]:
        assert name in text
    assert "Have cables and pipes located" in text
    many = stakes.procedure.told * 30
    crowded = replace(content, stakes=replace(stakes, procedure=replace(stakes.procedure, told=many)))
    assert write_procedure(tmp_path / "b.pdf", crowded, paper="letter") > 2


def test_a_field_for_rtk_gets_a_page_without_steps(tmp_path):
    stakes, rows = staked(StakeRule(receiver="rtk"), terrain=plane())
    content = Content(stakes, rows, square_site(), grid_scale(UTM, EAST, NORTH, 100.0), ())
    assert write_procedure(tmp_path / "a.pdf", content, paper="a4") == 1
    assert "every stake is set as a point" in pdf_text(tmp_path / "a.pdf").replace("\n", " ")


def test_a_card_lists_stakes_in_walking_order_with_tape_and_rise_from_the_one_before():
    def mark(name, tape):
        return SimpleNamespace(stake=name, label=name.split("-")[0], tape_m=tape, kind=TAPE, note="")

    row = [mark("7-000", np.nan), mark("7-010", 10.0), mark("7-015", 5.02)]
    rise = {"7-010": 0.20, "7-015": -0.05}
    there = _lines(row, rise, {}, Words("en"), backwards=False)
    back = _lines(row, rise, {}, Words("en"), backwards=True)
    assert [line[:3] for line in there] == [("000", "–", "–"), ("010", "10.00", "+20"), ("015", "5.02", "-5")]
    assert [line[:3] for line in back] == [("015", "–", "–"), ("010", "5.02", "+5"), ("000", "10.00", "-20")]


def test_no_product_reads_places_out_of_names(monkeypatch, tmp_path):
    """A stake's name may take another form in one place."""
    usual = labels._free_name
    monkeypatch.setattr(labels, "_free_name", lambda label, at, used: usual(label, at, used).replace("-", "/"))
    laid = example_layout()
    stakes = stakes_of(laid.design, laid.site, laid.rows, laid.beds, laid.terrain)
    assert stakes.marks["stake"].str.contains("/").all()
    written = write_stakes(stakes, laid.rows, laid.site, laid.design.stakeout, tmp_path)
    assert all(path.exists() for path in written)
