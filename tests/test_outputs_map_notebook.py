"""The map page as the field's notebook: on a phone's screen, by touch, from the file to `survey`."""

import json
import math
from contextlib import contextmanager
from dataclasses import replace

import builders
import numpy as np
import pandas as pd
import pyogrio
import pytest
import shapely
from builders import straight_rows
from report_builders import laid_out
from stakeout_builders import marks_along
from test_cli_report import written
from test_cli_stakes import run
from test_outputs_map_page import EVIL, browser, needs_browser, write  # noqa: F401

from geoagro.crs import WGS84, transform_points
from geoagro.stakeout.plots import PlotRule, lay_plots

PHONE = {"viewport": {"width": 390, "height": 844}, "has_touch": True, "is_mobile": True, "device_scale_factor": 2}


@contextmanager
def on_a_phone(room, path):
    page = room.new_page()
    page.problems = []
    page.on("console", lambda message: page.problems.append(message.text))
    page.on("pageerror", lambda error: page.problems.append(str(error)))
    page.goto(path.as_uri())
    page.wait_for_selector("html[data-ready=yes]", timeout=30_000)
    yield page
    page.close()


@pytest.fixture
def phone(browser):  # noqa: F811
    room = browser.new_context(offline=True, accept_downloads=True, **PHONE)
    yield room
    room.close()


@pytest.fixture(scope="module")
def page_file(tmp_path_factory):
    laid = laid_out(size_m=60.0)
    plots, _ = lay_plots(
        laid.boundary,
        laid.plants[["x", "y"]].to_numpy(),
        crs=builders.UTM,
        rule=PlotRule(radius_m=4.0, precision_pct=10),
    )
    return write(
        tmp_path_factory.mktemp("map"), laid, stakes=marks_along(straight_rows(size_m=60.0)), sample_plots=plots
    )


def saved(page, form, tmp_path):
    with page.expect_download() as download:
        page.tap(f"#book [data-form={form}]")
    path = tmp_path / download.value.suggested_filename
    download.value.save_as(path)
    return path


def swipe(page, way):
    """Draw a finger across the panel, as the browser's own protocol sends it."""
    box = page.locator("#book header").bounding_box()
    x, y = box["x"] + box["width"] / 2, box["y"] + 20
    touch = page.context.new_cdp_session(page)
    touch.send("Input.dispatchTouchEvent", {"type": "touchStart", "touchPoints": [{"x": x, "y": y}]})
    for step in (20, 60, 100):
        touch.send("Input.dispatchTouchEvent", {"type": "touchMove", "touchPoints": [{"x": x + way * step, "y": y}]})
    touch.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})
    page.wait_for_timeout(500)  # the browser takes a tap at once after a stroke for its end


@needs_browser
def test_a_row_is_stepped_through_by_tap_and_swipe_and_kept_when_the_page_is_closed(phone, page_file, tmp_path):
    with on_a_phone(phone, page_file) as page:
        page.tap("#book-button")
        page.tap('#book [data-which="3"]')
        first = page.inner_text("#book h3")
        assert "Row 3 · 1 / " in first
        page.tap("#book [data-state=alive]")
        assert "Row 3 · 2 / " in page.inner_text("#book h3")
        page.fill("#book-photo", "117")
        page.fill("#book-note", "=bark, eaten")
        page.tap("#book [data-state=dead]")
        swipe(page, -1)
        assert "Row 3 · 4 / " in page.inner_text("#book h3")
        swipe(page, 1)
        assert "Row 3 · 3 / " in page.inner_text("#book h3")
        page.tap('#book [data-state="not looked at"]')
        page.tap("#book [data-state=missing]")
        page.tap("#book [data-state=replaced]")
        page.tap("#book .back")
        page.tap("#book [data-state=replaced]")  # the same again takes it back
        assert page.problems == []
    with on_a_phone(phone, page_file) as page:
        page.tap("#book-button")
        assert "4 / 25" in page.inner_text('#book [data-which="3"]')
        table = pd.read_csv(saved(page, "csv", tmp_path), dtype=str, keep_default_na=False)
        assert sorted(table["status"]) == ["alive", "dead", "missing", "not looked at"]
        assert table["name"].astype(int).is_monotonic_increasing
        assert table.set_index("status").loc["dead", ["photo", "note"]].tolist() == ["117", "'=bark, eaten"]
        assert set(table["position"]) == {"design"}
        shown = json.loads(saved(page, "geojson", tmp_path).read_text())
        assert [f["properties"]["status"] for f in shown["features"]] == table["status"].tolist()
        at = shown["features"][0]["geometry"]["coordinates"]
        k = page.evaluate("(name) => field.plants.number.indexOf(Number(name))", table["name"][0])
        x, y = page.evaluate(
            "(k) => [field.plants.x[k] / 100 + head.origin[0], field.plants.y[k] / 100 + head.origin[1]]", k
        )
        east, north = transform_points(np.array([at[0]]), np.array([at[1]]), WGS84, builders.UTM)
        assert (east[0], north[0]) == pytest.approx((x, y), abs=0.01)


@needs_browser
def test_nothing_is_cut_off_and_every_target_is_big_enough_for_a_thumb(phone, page_file):
    """Targets of 44 px at least on the map, 56 in the notebook (44: WCAG 2.2, success criterion 2.5.5, from memory)."""
    with on_a_phone(phone, page_file) as page:
        page.tap("#book-button")
        for screen in ("rows", "plots", "stakes", "step"):
            if screen == "step":
                page.tap("#book .choices button")
            else:
                page.tap(f"#book [data-kind={screen}]")
            assert page.evaluate("document.documentElement.scrollWidth") <= 390
            boxes = page.evaluate(
                "[...document.querySelectorAll('#book button, #book input, #book select, #tools button')].filter((b) => b.offsetParent)"
                ".map((b) => { const r = b.getBoundingClientRect(); return [b.textContent, r.left, r.right, r.height, b.scrollWidth - b.clientWidth, !!b.closest('#book')]; })"
            )
            for words, left, right, height, over, in_book in boxes:
                assert (left >= 0, right <= 390) == (True, True), words
                assert height >= (56 if in_book else 44), words
                assert over <= 0, words
        assert page.problems == []


@needs_browser
def test_bright_sun_gives_black_on_white(phone, page_file):
    """Contrast of 7 to 1 and more (WCAG 2.2, success criterion 1.4.6)."""
    ratio = """() => { const lum = (c) => { const [r, g, b] = c.match(/[\\d.]+/g).map((v) => { v /= 255; return v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4; }); return 0.2126 * r + 0.7152 * g + 0.0722 * b; };
        return [...document.querySelectorAll('#book button, #book small, #book input')].map((b) => { const s = getComputedStyle(b); let e = b; while (getComputedStyle(e).backgroundColor === 'rgba(0, 0, 0, 0)') e = e.parentElement;
        const [x, y] = [lum(s.color), lum(getComputedStyle(e).backgroundColor)].sort((p, q) => q - p); return (x + 0.05) / (y + 0.05); }); }"""
    with on_a_phone(phone, page_file) as page:
        page.tap("#book-button")
        while page.get_attribute("html", "data-mode") != "sun":
            page.tap("#mode")
        assert min(page.evaluate(ratio)) >= 7
        page.tap('#book [data-which="2"]')
        page.tap("#book [data-state=alive]")
        page.tap("#book .back")
        assert min(page.evaluate(ratio)) >= 7


@needs_browser
def test_stakes_are_found_stepped_through_and_written_out(phone, page_file, tmp_path):
    with on_a_phone(phone, page_file) as page:
        name = page.evaluate("field.stakes.names[4]")
        page.fill("#search input", name.replace("-0", " - "))
        page.press("#search input", "Enter")
        assert page.inner_text("#card h3") == f"Stake {name}"
        page.tap("#book-button")
        page.tap("#book [data-kind=stakes]")
        page.tap("#book .choices button")
        page.tap("#book [data-state=set]")
        page.tap('#book [data-state="not set"]')
        page.tap("#book header button")
        table = pd.read_csv(saved(page, "csv", tmp_path))
        assert table["status"].tolist() == ["set", "not set"]
        assert table["name"].tolist() == page.evaluate("field.stakes.names.slice(0, 2)")


def wait_until(page, condition):
    """Ask again and again, as the page's own rules forbid a waiting function that is made from text."""
    for _ in range(200):
        if page.evaluate(condition):
            return
        page.wait_for_timeout(50)
    raise AssertionError(condition)


@needs_browser
def test_a_plot_holds_the_plants_in_its_circle_and_a_position_is_used_where_given(browser, page_file, tmp_path):  # noqa: F811
    room = browser.new_context(
        offline=True, permissions=["geolocation"], geolocation={"longitude": 15.0003, "latitude": 45.1537, "accuracy": 4.0}, **PHONE
    )  # fmt: skip
    with on_a_phone(room, page_file) as page:
        page.tap("#locate")
        wait_until(page, "place !== null")
        page.tap("#book-button")
        page.tap("#book [data-kind=plots]")
        page.select_option("#book select", "all")
        page.tap("#book .choices button")
        count, inside = page.evaluate(
            "[book.steps.length, book.steps.every(({ plant }) => Math.hypot(field.plants.x[plant] / 100 - field.plots[0].x, field.plants.y[plant] / 100 - field.plots[0].y) <= 4.001)]"
        )
        assert count > 5
        assert inside
        page.tap("#book .nearest")
        page.tap("#book [data-state=alive]")
        page.tap("#book header button")
        table = pd.read_csv(saved(page, "csv", tmp_path))
        assert (table["position"][0], table["accuracy_m"][0]) == ("measured", 4.0)
        assert (table["lon"][0], table["lat"][0]) == pytest.approx((15.0003, 45.1537), abs=2e-7)
    room.close()


@needs_browser
def test_names_of_another_layout_are_kept_apart_and_can_be_written_out(phone, page_file, tmp_path):
    with on_a_phone(phone, page_file) as page:
        page.evaluate(
            "localStorage.setItem(`${STORE}${head.name} 0123 p3`, JSON.stringify({ 41: { s: 2, t: 1, n: 'old' } }))"
        )
    with on_a_phone(phone, page_file) as page:
        page.tap("#book-button")
        assert page.evaluate("notes.plants.size") == 0
        with page.expect_download() as download:
            page.tap("#book .export button >> nth=2")
        download.value.save_as(tmp_path / "old.csv")
        assert (tmp_path / "old.csv").read_text().splitlines()[1] == "41,dead,1970-01-01T00:00:01.000Z,,old"


@needs_browser
def test_a_browser_that_keeps_nothing_is_told(phone, page_file):
    phone.add_init_script("Object.defineProperty(window, 'localStorage', { get() { throw new Error('refused'); } });")
    with on_a_phone(phone, page_file) as page:
        page.tap("#book-button")
        assert "save the file before you close it" in page.inner_text("#book .warn")


@needs_browser
def test_fifty_thousand_plants_are_stepped_through_without_waiting(phone, tmp_path):
    laid = laid_out(size_m=60.0)
    times = int(np.ceil(50_000 / len(laid.plants)))
    many = pd.concat([laid.plants] * times, ignore_index=True)
    many["plant"] = np.arange(1, len(many) + 1)
    path = write(tmp_path, replace(laid, plants=many))
    with on_a_phone(phone, path) as page:
        page.tap("#book-button")
        page.tap('#book [data-which="3"]')
        slow = page.evaluate(
            "() => { const began = performance.now(); for (let k = 0; k < 20; k++) document.querySelector('#book [data-state=alive]').click(); return (performance.now() - began) / 20; }"
        )
        assert page.evaluate("notes.plants.size") == 20
        assert slow < 400  # about 30 ms on an idle machine; a loaded one is given room
        assert page.problems == []


@needs_browser
def test_what_the_phone_writes_is_what_survey_reads(phone, tmp_path):
    """From the command's own page, by touch, to the count."""
    design = written(tmp_path / "field")
    field = design.parent
    run("stakes", design, "--no-heights")
    code, text = run("map", design)
    assert code == 0, text
    with on_a_phone(phone, field / "result" / "map.html") as page:
        page.tap("#book-button")
        page.tap('#book [data-which="2"]')
        total = page.evaluate("book.steps.length")
        for k in range(total):
            page.evaluate(f"document.querySelector('#book [data-state={'dead' if k % 5 == 0 else 'alive'}]').click()")
        page.tap("#book header button")
        count = saved(page, "csv", tmp_path)
        drawn = saved(page, "geojson", tmp_path)
        page.tap("#book [data-kind=stakes]")
        page.tap("#book .choices button")
        for _ in range(3):
            page.tap("#book [data-state=set]")
        page.tap("#book header button") if page.query_selector("#book[data-screen=step]") else None
        stakes = saved(page, "csv", tmp_path)
    dead = len(range(0, total, 5))
    for path in (count, drawn):
        code, text = run("survey", design, path, "--covers", "rows", "--crop", "hill_plum", "--crop", "shade_alder")
        assert code == 0, text
        assert f"all crops: {total - dead} of {total} alive" in text
    built = sorted((field / "result" / "surveys").glob("*plants*.gpkg"))[0]
    states = pyogrio.read_dataframe(built, layer="plants_asbuilt")["state"].value_counts()
    assert (states["dead"], states["alive"]) == (dead, total - dead)
    code, text = run("survey", design, stakes)
    assert code == 0, text
    assert "stakes found" in text


@needs_browser
def test_names_of_stakes_on_the_map_run_into_neither_each_other_nor_rows_numbers(phone, page_file):
    """Names that find no corner wait until the map is closer; there each has its own."""
    with on_a_phone(phone, page_file) as page:
        seen = []
        for grow in (8, 16, 64):
            page.evaluate("(zoom) => map.setView(map.getCenter(), zoom, { animate: false })", math.log2(grow))
            page.wait_for_timeout(300)
            named = page.evaluate("field.stakes.named")
            boxes = np.array([shapely.box(*bounds).buffer(-0.01) for bounds in named["boxes"]], dtype=object)
            first, second = shapely.STRtree(boxes).query(boxes, predicate="intersects")
            assert (first == second).all()
            seen.append((named["drawn"], named["wanted"]))
        assert seen[0][0] > 0
        assert seen[-1][0] == seen[-1][1] > 0
        assert page.problems == []


@needs_browser
@pytest.mark.parametrize("share", [0.5, 0.9, 1.1, 2])
def test_stakes_are_marked_from_where_rows_can_be_followed_and_leave_wider_views_free(phone, page_file, share):
    """Rows 22 pixels apart are told apart beside marks of 8; below that neither marks are drawn nor stakes tapped."""
    with on_a_phone(phone, page_file) as page:
        page.evaluate("(share) => map.setZoom(Math.log2((share * 22) / 4.5), { animate: false })", share)
        page.wait_for_timeout(300)
        assert (page.evaluate("field.stakes.marks") > 0) == (share > 1)
        at = page.evaluate("thingAt(field.stakes.x[4] / 100, field.stakes.y[4] / 100)")
        assert (at.get("stake") == 4) == (share > 1)
        assert page.problems == []
