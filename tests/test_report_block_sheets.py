"""Block sheets of the report: sharp at any size, every plant in its place, and small files."""

from dataclasses import replace

import matplotlib as mpl
import numpy as np
import pikepdf
import pytest
from matplotlib.figure import Figure
from report_builders import laid_out
from shapely import LineString, Point, box

from geoagro.outputs.drawing.lean_pdf import save_lean
from geoagro.outputs.drawing.page import Page
from geoagro.outputs.report.bed_letters import bed_names
from geoagro.outputs.report.block_sheet import (
    GRID_MM,
    close_crops,
    legend_height,
    number_places,
    numbered_every,
    write_block,
)
from geoagro.outputs.report.maps import MapData
from geoagro.outputs.report.pdf import write_report_pdf
from geoagro.outputs.words.say import Words
from geoagro.reports.account import account_for
from geoagro.values.report import ReportRule

BYTES_PER_PLANT = 14
BYTES_OF_A_PAGE = 45_000  # letters, ground, rows and legend of a page at 1:500


@pytest.fixture(scope="module")
def laid():
    return laid_out(size_m=80.0)


def drawn(laid, path, extent, scale):
    legend = legend_height(laid)
    size = (
        (extent[2] - extent[0]) * 1000 / scale + GRID_MM,
        (extent[3] - extent[1]) * 1000 / scale + legend + GRID_MM,
    )
    write_block(MapData(laid, None, Words("en")), path, extent, size_mm=size, legend_mm=legend)
    return pikepdf.open(path)


def placed(content):
    """Where forms are drawn on a page, points from its lower left corner."""
    matrix, kept, found = np.eye(3), [], []
    for operands, operator in pikepdf.parse_content_stream(content):
        match str(operator):
            case "q":
                kept.append(matrix)
            case "Q":
                matrix = kept.pop()
            case "cm":
                a, b, c, d, e, f = map(float, operands)
                matrix = np.array([[a, b, 0], [c, d, 0], [e, f, 1]]) @ matrix
            case "Do":
                found.append(matrix[2, :2])
    return np.array(found)


def test_every_plant_of_a_block_is_placed_to_a_hundredth_of_a_millimetre_and_none_as_pixels(laid, tmp_path):
    west, south = laid.boundary.bounds[:2]
    extent = (west, south, west + 40.0, south + 40.0)
    with drawn(laid, tmp_path / "block.pdf", extent, 250) as pdf:
        page = pdf.pages[0]
        kinds = [str(form.Subtype) for form in page.Resources.XObject.values()]
        marks = placed(page)
    plants = laid.plants
    inside = plants["x"].between(extent[0], extent[2]) & plants["y"].between(extent[1], extent[3])
    assert set(kinds) == {"/Form"}
    legend = 4  # a mark of each crop
    crosses = 25
    assert int(inside.sum()) <= len(marks) <= int(inside.sum()) + legend + crosses
    points_per_m = 1000 / 250 / 25.4 * 72
    asked = np.column_stack([plants["x"][inside] - west, plants["y"][inside] - south]) * points_per_m
    asked[:, 1] += (legend_height(laid) + GRID_MM) / 25.4 * 72
    off = np.array([np.hypot(*(marks - place).T).min() for place in asked[::7]])
    assert off.max() < 0.01 / 25.4 * 72


def test_a_page_of_many_plants_takes_few_bytes_a_plant_whatever_their_number(laid, tmp_path):
    rule = ReportRule(block_scale=500)
    write_report_pdf(account_for(laid, rule), rule, MapData(laid, None, Words("en")), tmp_path / "report.pdf")
    with pikepdf.open(tmp_path / "report.pdf") as pdf:
        page = pdf.pages[-1]
        seen: set[tuple[int, int]] = set()
        size = bytes_below(page.obj.Contents, seen) + bytes_below(page.obj.Resources, seen)
        assert not [o for o in pdf.objects if isinstance(o, pikepdf.Stream) and o.get("/SMask") is not None]
    assert len(laid.plants) > 3000
    assert size < BYTES_OF_A_PAGE + BYTES_PER_PLANT * len(laid.plants)


def bytes_below(node, seen):
    """Bytes of all streams that a page draws."""
    if isinstance(node, pikepdf.Object) and node.is_indirect:
        if node.objgen in seen:
            return 0
        seen.add(node.objgen)
    if isinstance(node, pikepdf.Array):
        return sum(bytes_below(kid, seen) for kid in node)
    if not isinstance(node, pikepdf.Dictionary | pikepdf.Stream):
        return 0
    own = int(node.get("/Length", 0)) if isinstance(node, pikepdf.Stream) else 0
    skipped = {"/Parent", "/P", "/Pg", "/StructParents"}
    return own + sum(bytes_below(node[key], seen) for key in node.keys() if key not in skipped)  # noqa: SIM118


def test_shortened_numbers_move_nothing_by_more_than_half_a_hundredth_of_a_point(tmp_path):
    angle = np.linspace(0, 7, 300)
    for name in ("a.pdf", "b.pdf"):
        figure = Figure(figsize=(4, 3))
        axes = figure.add_axes((0.1, 0.1, 0.8, 0.8))
        axes.set(xlim=(0, 7), ylim=(-1.1, 1.1))
        with mpl.rc_context({"path.simplify": False}):
            axes.plot(angle, np.sin(angle), lw=0.7)
        axes.text(3, 0, "12-035", rotation=33)
        save_lean(figure, tmp_path / name)
    assert (tmp_path / "a.pdf").read_bytes() == (tmp_path / "b.pdf").read_bytes()
    with pikepdf.open(tmp_path / "a.pdf") as pdf:
        content = pdf.pages[0].obj.Contents.read_bytes().decode("latin-1")
        lines = pikepdf.parse_content_stream(pdf.pages[0])
    drawn_to = np.array([[float(v) for v in operands] for operands, operator in lines if str(operator) == "l"])
    wide, high = 4 * 72, 3 * 72
    asked = np.column_stack([wide * (0.1 + 0.8 * angle / 7), high * (0.1 + 0.8 * (np.sin(angle) + 1.1) / 2.2)])
    nearest = [np.hypot(*(drawn_to - place).T).min() for place in asked[1:]]
    assert max(nearest) <= 0.005 * np.sqrt(2) + 1e-9
    assert "0.83867" in content  # turned letters keep their matrix: cos 33 degrees


def test_beds_whose_plants_are_too_close_for_marks_carry_the_names_of_their_crops(laid):
    west, south = laid.boundary.bounds[:2]
    page = Page(False, (west, south, west + 80.0, south + 80.0), 1.0)
    close = close_crops(laid, page.mm_per_m)
    assert close
    bed_of, crop_of = laid.plants["bed"].to_numpy(), laid.plants["crop"].to_numpy()
    shapes = dict(zip(laid.beds["bed"], laid.beds.geometry, strict=True))
    named = set()
    for name, members in bed_names(MapData(laid, None, Words("en")), page, close):
        (bed,) = set(bed_of[members])
        named.add(bed)
        assert name.text == ", ".join(sorted(laid.crops[code].name for code in set(crop_of[members])))
        assert bed not in shapes or shapes[bed].buffer(1e-6).contains(Point(name.middle))
        assert abs(name.turn_deg) <= 90
    assert named == set(bed_of[np.isin(crop_of, list(close))])
    smaller = replace(page, mm_per_m=0.5)  # letters of 4 pt would run into the next bed
    assert not list(bed_names(MapData(laid, None, Words("en")), smaller, close))


def test_row_numbers_stand_whole_on_the_sheet_off_its_arrow_and_bar():
    """Numbers stand west; where a row only enters below the arrow or cuts the frame, further along it."""
    page = Page(False, (0.0, 0.0, 100.0, 100.0), 2.0)  # paper of 200 mm, arrow within 8 x 18 mm at its upper right
    rows = np.array(
        [
            LineString([(0, 50), (100, 50)]),
            LineString([(90, 100), (100, 80)]),  # comes in beside the arrow
            LineString([(99, 99), (100, 20)]),  # under the arrow, then down along the frame
            LineString([(0, 100), (100, 99)]),  # along the frame
            LineString([(85, 1), (100, 30)]),  # from under the bar
            LineString([(99, 99), (99.5, 95)]),  # all of it under the arrow
        ]
    )
    places = number_places(rows, page)
    assert places[0] == pytest.approx((1.6, 50))
    kept = [Point(place) for place in places[:5]]
    assert all(box(1.5, 1, 98.5, 99).contains(p) for p in kept)
    assert not any(box(96, 91, 100, 100).contains(p) or box(73, 0, 100, 5).contains(p) for p in kept)
    for k, (row, place) in enumerate(zip(rows, kept, strict=False)):  # beside its row only where that is all but on it
        assert row.distance(place) * 2.0 < (3.3 if k in (2, 3) else 1e-9)
    assert np.isnan(places[5]).all()  # another sheet numbers it


def test_numbers_of_crowded_rows_keep_clear_of_each_other_and_come_in_steps_where_rows_are_denser_on_paper():
    page = Page(False, (0.0, 0.0, 100.0, 100.0), 1.0)
    rows = np.array([LineString([(5, y), (95, y)]) for y in np.arange(20, 80, 1.0)])
    places = number_places(rows, page)
    shown = places[~np.isnan(places[:, 0])]
    assert len(shown) > 0.9 * len(rows)
    apart = np.abs(shown[:, None] - shown[None])
    touching = (apart[..., 0] < 0.8 * 6.4 - 1e-9) & (apart[..., 1] < 0.8 * 4.4 - 1e-9)
    assert np.array_equal(touching, np.eye(len(shown), dtype=bool))
    assert [numbered_every(4.5, Page(False, page.extent, 1000 / scale)) for scale in (500, 1000, 2000, 5000)] == [
        1,
        1,
        2,
        5,
    ]
