"""The map of a large field as a folder of pages: every plant on exactly one, and ways between them without network."""

import base64
import json
import re
import zlib
from dataclasses import replace

import builders
import numpy as np
import pandas as pd
import pytest
import shapely
from builders import straight_rows
from hypothesis import Phase, given, settings
from hypothesis import strategies as st
from report_builders import laid_out
from stakeout_builders import marks_along
from test_outputs_map_notebook import PHONE, on_a_phone, phone, wait_until  # noqa: F401
from test_outputs_map_page import EN, browser, needs_browser, opened, screen  # noqa: F401

from geoagro.crs import WGS84, transform_points
from geoagro.errors import OutputError
from geoagro.outputs.map.folder import map_parts, page_names, write_map_pages
from geoagro.outputs.map.parts import cut_into_parts
from geoagro.outputs.map.plants import parts_notes_key
from geoagro.outputs.report.files import write_map
from geoagro.outputs.report.maps import MapData
from geoagro.reports.account import account_for
from geoagro.stakeout.plots import PlotRule, lay_plots
from geoagro.values.report import ReportRule

MOST = 300


def write(folder, laid, *, most=MOST, terrain=None, **more):
    data = MapData(laid, terrain, EN, **more)
    return write_map(account_for(laid, ReportRule()), data, folder, page_carries=most)


def content(page):
    """What a page holds, as its script reads it."""
    head = json.loads(re.search(r'id="data">(.*?)</script>', page.read_text(encoding="utf-8"), re.DOTALL)[1])
    raw, at, arrays = zlib.decompress(base64.b64decode(head["pack"])), 0, {}
    for one in head["arrays"]:
        kind = np.dtype({"i4": "<i4", "u2": "<u2", "u1": "u1"}[one["kind"]])
        array = np.frombuffer(raw, kind, one["length"], at).copy()
        at += array.nbytes
        for k in range(one["delta"], len(array) if one["delta"] else 0):
            array[k] += array[k - one["delta"]]
        arrays[one["name"]] = array
    return head, arrays


@pytest.fixture(scope="module")
def laid():
    return laid_out(size_m=60.0)


@pytest.fixture(scope="module")
def plots(laid):
    rule = PlotRule(radius_m=4.0, precision_pct=10)
    return lay_plots(laid.boundary, laid.plants[["x", "y"]].to_numpy(), crs=builders.UTM, rule=rule)[0]


@pytest.fixture(scope="module")
def stakes():
    return marks_along(straight_rows(size_m=60.0))


@pytest.fixture(scope="module")
def folder(tmp_path_factory, laid, stakes, plots):
    place = tmp_path_factory.mktemp("map")
    write(place, laid, terrain=builders.plane(size_m=60.0), stakes=stakes, sample_plots=plots)
    return place


@pytest.fixture(scope="module")
def pages(folder):
    return {path.stem: content(path) for path in sorted((folder / "map_parts").glob("*.html"))}


@settings(max_examples=60, deadline=None, phases=[Phase.explicit, Phase.generate])
@given(
    seed=st.integers(0, 2**32 - 1), count=st.integers(2, 4000), pages=st.integers(1, 40),
    wide=st.floats(20, 3000), grain=st.sampled_from([0.0, 1.0, 25.0]),
)  # fmt: skip
def test_every_plant_is_in_exactly_one_part_and_the_parts_tile_the_field(seed, count, pages, wide, grain):
    random = np.random.default_rng(seed)
    field = shapely.box(0, 0, wide, 400)
    x, y = random.uniform(0, wide, count), 400 * random.beta(2, 3, count)
    if grain:
        x, y = np.floor(x / grain) * grain, np.floor(y / grain) * grain
    most = -(-count // pages)
    parts = cut_into_parts(field, x, y, most)
    found = parts.of(x, y)
    assert found.min() >= 0
    assert found.max() < len(parts.parts)
    assert len({part.name for part in parts.parts}) == len(parts.parts)
    cells = np.array([part.cell for part in parts.parts])[found]
    assert ((x >= cells[:, 0]) & (x <= cells[:, 2]) & (y >= cells[:, 1]) & (y <= cells[:, 3])).all()
    boxes = shapely.box(*np.array([part.cell for part in parts.parts]).T)
    assert shapely.area(boxes).sum() == pytest.approx(field.area)
    assert shapely.union_all(boxes).area == pytest.approx(field.area)
    if not grain:  # no two on one line, so cuts can go between any two
        assert np.bincount(found).max() <= most + 3


def test_parts_of_a_rounded_field_hold_equally_many_plants_and_are_nearly_square():
    field = shapely.affinity.scale(shapely.Point(500, 500).buffer(400, quad_segs=64), 1.25, 1.0)
    west, south, east, north = field.bounds
    x, y = (a.ravel() for a in np.meshgrid(np.arange(west, east, 2.03), np.arange(south, north, 2.11)))
    inside = shapely.contains_xy(field, x, y)
    parts = cut_into_parts(field, x[inside], y[inside], 4000)
    counts = np.bincount(parts.of(x[inside], y[inside]))
    assert len(counts) == -(-inside.sum() // 4000)
    assert counts.max() <= 1.05 * counts.min()
    assert counts.max() <= 4000 * 1.03
    shapes = [(part.box[2] - part.box[0]) / (part.box[3] - part.box[1]) for part in parts.parts]
    assert min(shapes) > 0.4
    assert max(shapes) < 2.5


def test_names_go_by_band_from_north_and_by_place_from_west(pages):
    by_name = {name: head["box"] for name, (head, _) in pages.items()}
    assert by_name["A1"][3] > by_name["B1"][3]
    assert by_name["A1"][0] < by_name["A2"][0]
    assert "A1" in pages["A2"][0]["near"]


def test_the_pages_together_hold_every_plant_once_with_its_own_place_crop_and_bed(laid, pages):
    table = []
    for head, arrays in pages.values():
        crops = np.array([crop["code"] for crop in head["crops"]])
        table.append(
            pd.DataFrame(
                {
                    "plant": arrays["plants.number"],
                    "x": arrays["plants.x"] / 100 + head["origin"][0],
                    "y": arrays["plants.y"] / 100 + head["origin"][1],
                    "crop": crops[arrays["plants.crop"]],
                    "bed": np.array(head["beds"])[arrays["plants.bed"]],
                    "row": arrays["plants.row"],
                    "station_m": arrays["plants.station"] / 100,
                }
            )
        )
        assert sum(crop["count"] for crop in head["crops"]) == len(table[-1]) <= 1.15 * MOST
        for crop in head["crops"]:
            mine = table[-1]["crop"].iloc[slice(*crop["span"])]
            assert (mine == crop["code"]).all()
            assert len(mine) == crop["count"] <= crop["in_field"]
    found = pd.concat(table).sort_values("plant").reset_index(drop=True)
    wanted = laid.plants.sort_values("plant").reset_index(drop=True)
    assert found["plant"].tolist() == wanted["plant"].tolist()
    for name in ("crop", "bed", "row"):
        assert found[name].tolist() == wanted[name].tolist()
    for name in ("x", "y", "station_m"):
        assert np.abs(found[name] - wanted[name]).max() <= 0.0051


def test_beds_rows_and_paths_lie_on_every_page_that_their_ground_is_on(laid, pages):
    for key, layer in (
        ("beds", laid.beds),
        ("tree_beds", laid.tree_beds),
        ("paths", laid.paths),
        ("tree_rows", laid.tree_rows),
    ):
        name = "row" if key == "tree_rows" else "path" if key == "paths" else "bed"
        for head, arrays in pages.values():
            frame = shapely.box(*(head["box"][k] + head["origin"][k % 2] for k in range(4)))
            told = next(one for one in head["layers"] if one["key"] == key)
            crossing = layer[layer.intersects(frame)]
            assert set(crossing[name]) <= set(told["columns"][name])
            points = arrays[f"{key}.points"].reshape(-1, 2) / 100 + head["origin"]
            assert shapely.distance(frame, shapely.points(points)).max() < 7.2  # 5 m over each edge


def test_outlines_across_an_edge_keep_the_ground_inside_it(laid, pages):
    head, arrays = pages["A1"]
    frame = shapely.box(*(head["box"][k] + head["origin"][k % 2] for k in range(4)))
    ends = np.cumsum(arrays["beds.counts"])
    points = arrays["beds.points"].reshape(-1, 2) / 100 + head["origin"]
    rings = [shapely.Polygon(points[a:b]) for a, b in zip([0, *ends[:-1]], ends, strict=True)]
    shown = shapely.union_all([ring.buffer(0) for ring in rings]).intersection(frame)
    assert shown.area == pytest.approx(laid.beds.union_all().intersection(frame).area, rel=0.005)


def test_every_stake_is_on_one_page_and_a_plot_on_all_that_it_reaches_into(laid, pages, stakes, plots):
    names = [name for head, _ in pages.values() for name in head["stakes"]]
    assert sorted(names) == sorted(stakes["stake"])
    for plot in plots.itertuples():
        there = {name for name, (head, _) in pages.items() if plot.plot in [p["name"] for p in head["plots"]]}
        near = np.hypot(laid.plants["x"] - plot.x, laid.plants["y"] - plot.y) < plot.radius_m - 0.02
        holds = {
            name
            for name, (_, arrays) in pages.items()
            if set(laid.plants.loc[near, "plant"]) & set(arrays["plants.number"].tolist())
        }
        assert holds <= there
        for name in there:
            told = next(p for p in pages[name][0]["plots"] if p["name"] == plot.plot)
            assert {name, *told["on"]} == there


def test_the_page_of_the_field_has_rows_and_parts_but_neither_beds_nor_plants(laid, folder, pages):
    head, arrays = content(folder / "map.html")
    keys = {layer["key"] for layer in head["layers"]}
    assert {"tree_rows", "field", "relief"} <= keys
    assert not {"beds", "tree_beds", "paths"} & keys
    assert len(arrays["plants.x"]) == 0
    assert [part["name"] for part in head["parts"]] == list(pages)
    assert sum(part["plants"] for part in head["parts"]) == len(laid.plants)
    assert head["part"] is None


def test_pages_of_an_earlier_map_go_and_files_of_others_stay(tmp_path, laid):
    many = write(tmp_path, laid)
    (tmp_path / "map_parts" / "mine.html").write_text("keep")
    few = write(tmp_path, laid, most=2 * MOST)
    left = {path.name for path in (tmp_path / "map_parts").iterdir()}
    assert left == {path.name for path in few[1:]} | {"mine.html"}
    assert len(few) < len(many)
    (tmp_path / "map_parts" / "mine.html").unlink()
    assert write(tmp_path, laid, most=10**6) == [tmp_path / "map.html"]
    assert not (tmp_path / "map_parts").exists()
    assert content(tmp_path / "map.html")[0]["parts"] == []


def test_something_else_in_the_place_of_the_folder_is_told_and_kept(tmp_path, laid):
    (tmp_path / "map_parts").write_text("mine")
    with pytest.raises(OutputError, match=r"map_parts is not a folder; .* Move it away"):
        write(tmp_path, laid)
    assert (tmp_path / "map_parts").read_text() == "mine"
    assert not (tmp_path / "map.html").exists()


def test_narrow_columns_without_geometry_give_the_same_pages(tmp_path, laid, folder, stakes, plots):
    plain = pd.DataFrame(laid.plants.drop(columns="geometry"))
    for name in ("crop", "bed", "planting", "mixture"):
        plain[name] = plain[name].astype("category")
    for name in ("plant", "row", "line"):
        plain[name] = plain[name].astype("int32")
    account = account_for(laid, ReportRule())
    data = MapData(replace(laid, plants=plain), builders.plane(size_m=60.0), EN, stakes=stakes, sample_plots=plots)
    (tmp_path / "map_parts").mkdir()
    parts = map_parts(data, MOST)
    write_map_pages(account, data, parts, tmp_path)
    for name in page_names(parts):
        assert (tmp_path / name).read_bytes() == (folder / name).read_bytes()


def test_notes_of_another_layout_or_another_cut_have_another_key(laid):
    x, y = laid.plants["x"].to_numpy(), laid.plants["y"].to_numpy()
    codes = list(laid.crops)
    cuts = [cut_into_parts(laid.boundary, x, y, most) for most in (MOST, MOST, 2 * MOST)]
    moved, other = laid.plants.copy(), laid.plants.copy()
    moved.loc[moved.index[7], "x"] += 0.02
    other.loc[other.index[7], "crop"] = next(code for code in codes if code != other["crop"].iloc[7])
    keys = [parts_notes_key(laid, codes, cut) for cut in cuts]
    keys += [parts_notes_key(replace(laid, plants=plants), codes, cuts[0]) for plants in (moved, other)]
    assert keys[0] == keys[1]
    assert len(set(keys)) == 4


@needs_browser
def test_a_tap_on_a_name_opens_the_part_and_its_page_leads_back_and_on(browser, folder):  # noqa: F811
    with opened(browser, folder / "map.html") as page:
        x, y = page.evaluate("middleOf(head.parts[1].box)")
        page.mouse.click(*screen(page, x, y))
        page.wait_for_url("**/map_parts/A2.html")
        page.wait_for_selector("html[data-ready=yes]")
        assert page.inner_text("h1") == "Invented Hill · A2"
        drawn = int(page.evaluate("document.documentElement.dataset.plantsDrawn"))
        assert drawn == page.evaluate("field.plants.x.length") > 0
        page.click("#parts-button")
        page.click("#parts [data-part=A1]")
        page.wait_for_url("**/map_parts/A1.html")
        page.wait_for_selector("html[data-ready=yes]")
        page.click("#parts-button")
        page.click("#parts [data-part='']")
        page.wait_for_url("**/map.html")
        page.wait_for_selector("html[data-ready=yes]")
        page.click("#parts-button")
        assert page.locator("#parts a").count() == page.evaluate("head.parts.length")
        assert page.problems == []
        assert all(url.startswith(("file:", "data:", "blob:")) for url in page.asked)


@needs_browser
def test_rows_crops_and_parts_are_found_on_the_page_of_the_field(browser, folder):  # noqa: F811
    with opened(browser, folder / "map.html") as page:
        for text, title in (("row 7", "Row 7"), ("b1", "Part B1"), ("plum", "Hill plum")):
            page.fill("#search input", text)
            page.press("#search input", "Enter")
            assert page.inner_text("#card h3") == title
        page.fill("#search input", "R003-T")
        page.press("#search input", "Enter")
        assert "on the pages of the parts" in page.inner_text("#notice")
        assert page.locator("#book-button").count() == 0
        assert page.problems == []


@needs_browser
def test_whoever_walks_out_of_a_part_is_offered_the_next_and_stays_found(browser, folder, pages):  # noqa: F811
    head = pages["A1"][0]
    own, other = head["box"], pages["A2"][0]["box"]
    y = (own[1] + own[3]) / 2

    def at(x):
        lon, lat = transform_points(
            np.array([x + head["origin"][0]]), np.array([y + head["origin"][1]]), builders.UTM, WGS84
        )
        return {"longitude": float(lon[0]), "latitude": float(lat[0]), "accuracy": 3.0}

    room = browser.new_context(offline=True, permissions=["geolocation"], geolocation=at(own[2] - 5), **PHONE)
    with on_a_phone(room, folder / "map_parts" / "A1.html") as page:
        page.tap("#locate")
        wait_until(page, "place !== null")
        assert page.is_hidden("#offer")
        room.set_geolocation(at(other[0] + 2))  # within what the position may err
        wait_until(page, f"place.x > {other[0] + 1}")
        assert page.is_hidden("#offer")
        room.set_geolocation(at(other[0] + 8))
        wait_until(page, f"place.x > {other[0] + 7}")
        assert "You have left part A1 and are in part A2." in page.inner_text("#offer")
        page.tap("#offer a")
        page.wait_for_url(re.compile(r"/A2\.html"))
        page.wait_for_selector("html[data-ready=yes]")
        assert page.evaluate("location.hash") == "#locate"
        wait_until(page, "place !== null")
        assert page.is_hidden("#offer")
        assert page.problems == []
    room.close()


@needs_browser
def test_notes_on_one_row_are_kept_apart_by_part_and_none_counts_as_of_an_earlier_layout(phone, folder):  # noqa: F811
    def mark(name, state):
        with on_a_phone(phone, folder / "map_parts" / f"{name}.html") as page:
            page.tap("#book-button")
            page.tap("#book .choices button")
            page.tap(f"#book [data-state={state}]")

    def seen(name):
        with on_a_phone(phone, folder / "map_parts" / f"{name}.html") as page:
            return page.evaluate("[[...notes.plants.values()].map(({ s }) => s), notes.earlier.length]")

    mark("A1", "dead")
    mark("A2", "missing")
    assert seen("A1") == [[2], 0]
    assert seen("A2") == [[3], 0]
    assert seen("B1") == [[], 0]


@needs_browser
def test_nothing_on_a_phone_is_cut_off_and_every_way_is_big_enough_for_a_thumb(phone, folder):  # noqa: F811
    sizes = "[...document.querySelectorAll('#parts a, #parts button, #tools button')].map((e) => { const b = e.getBoundingClientRect(); return [b.left, b.right, b.height]; })"
    for file in (folder / "map.html", folder / "map_parts" / "A1.html"):
        with on_a_phone(phone, file) as page:
            page.tap("#parts-button")
            for left, right, high in page.evaluate(sizes):
                assert left >= 0
                assert right <= 390
                assert high >= 40
            assert page.evaluate("document.documentElement.scrollWidth") <= 390


@needs_browser
def test_no_row_number_lies_under_the_name_of_a_part(browser, folder):  # noqa: F811
    under = "({ px, py, half, high }) => isUnderChip(px - half, py - high, px + half, py + high)"
    with opened(browser, folder / "map.html") as page:
        assert page.evaluate("chips.length") > 1
        assert page.evaluate("rowNumbers(picture.view).length") > 1
        assert page.evaluate(f"rowNumbers(picture.view).filter({under}).length") == 0
