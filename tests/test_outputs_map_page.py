"""The map page, opened from disk in a real browser without network."""

import json
import re
import shutil
from contextlib import contextmanager
from dataclasses import replace
from itertools import combinations

import builders
import numpy as np
import pytest
import shapely
import shapely.affinity
from pyproj import Transformer
from report_builders import CROPS, grid_of_plants, laid_out, planting, together

from geoagro.errors import OutputError
from geoagro.outputs.drawing.contrast import TEXT, contrast
from geoagro.outputs.drawing.looks import reason_look
from geoagro.outputs.map.content import map_content, own_position
from geoagro.outputs.map.pack import Pack
from geoagro.outputs.map.page import data_text, page_text, write_map_page
from geoagro.outputs.report.maps import MapData
from geoagro.outputs.words.say import Words
from geoagro.reports.account import account_for
from geoagro.values.measures import hectare_decimals
from geoagro.values.reasons import REASONS
from geoagro.values.report import ReportRule

EN = Words("en")
EVIL = '<script>document.documentElement.dataset.harmed="yes"</script><img src=x onerror="document.documentElement.dataset.harmed=1">'
CHROMIUM = next(
    (path for name in ("chromium", "chromium-browser", "google-chrome") if (path := shutil.which(name))), None
)
needs_browser = pytest.mark.skipif(
    CHROMIUM is None, reason="no Chromium on this machine (Debian package chromium); the page is not tried in a browser"
)


def write(folder, laid, terrain=None, words=EN, **more):
    path = folder / "map.html"
    write_map_page(account_for(laid, ReportRule()), MapData(laid, terrain, words, **more), path)
    return path


@pytest.fixture(scope="module")
def browser():
    playwright = pytest.importorskip("playwright.sync_api", reason="the Python package playwright is not installed")
    with playwright.sync_playwright() as p:
        browser = p.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox", "--disable-gpu"])
        yield browser
        browser.close()


@contextmanager
def opened(browser, path, **context):
    room = browser.new_context(offline=True, **{"viewport": {"width": 900, "height": 700}} | context)
    page = room.new_page()
    page.problems, page.asked = [], []
    page.on("console", lambda message: page.problems.append(message.text))
    page.on("pageerror", lambda error: page.problems.append(str(error)))
    page.on("request", lambda request: page.asked.append(request.url))
    page.goto(path.as_uri())
    page.wait_for_selector("html[data-ready=yes]", timeout=20_000)
    yield page
    room.close()


def screen(page, x, y):
    """Where a place (metres east and north of the map's origin) is on the screen."""
    return page.evaluate("([x, y]) => { const p = map.latLngToContainerPoint([y, x]); return [p.x, p.y]; }", [x, y])


@needs_browser
def test_the_page_opens_from_disk_and_shows_the_accounts_numbers(browser, tmp_path):
    laid = laid_out(size_m=60.0, setback_m=2.0)
    account = account_for(laid, ReportRule())
    head = account.headline
    with opened(browser, write(tmp_path, laid, builders.plane(size_m=60.0))) as page:
        facts = page.inner_text("#facts")
        assert f"{head.planted_m2 / 10_000:,.{hectare_decimals(account.area_sd_m2)}f} ha" in facts
        assert f"{head.trees:,} trees" in facts
        assert int(page.evaluate("document.documentElement.dataset.plantsDrawn")) == head.plants
        assert page.problems == []
        assert [url for url in page.asked if not url.startswith(("file:", "data:", "blob:"))] == []


@needs_browser
def test_search_tap_measure_layers_and_lights(browser, tmp_path):
    with opened(browser, write(tmp_path, laid_out(size_m=60.0))) as page:
        page.fill("#search input", "row 7")
        page.press("#search input", "Enter")
        page.wait_for_timeout(500)
        assert page.inner_text("#card h3") == "Row 7"
        assert "60.0 m" in page.inner_text("#card")
        page.fill("#search input", "R003-T")
        page.press("#search input", "Enter")
        assert page.inner_text("#card h3") == "Tree bed R003-T"
        page.wait_for_timeout(500)
        page.mouse.click(*screen(page, 1.5, 60 - 2.25 - 9.0))  # the first plum of row 3
        assert page.inner_text("#card h3") == "Hill plum"
        page.fill("#search input", "nowhere")
        page.press("#search input", "Enter")
        assert "Nothing by that name" in page.inner_text("#notice")
        page.click("#whole")
        page.wait_for_timeout(500)
        page.click("#measure")
        for place in ((10, 10), (10, 40)):
            page.mouse.click(*screen(page, *place))
            page.wait_for_timeout(350)
        length = float(re.search(r"Total\s+([\d.]+) m", page.inner_text("#card"))[1])
        assert length == pytest.approx(30.0, abs=0.4)  # a pixel is about 0.1 m here
        page.click("#layers-button")
        page.uncheck("#layers input[data-key=salad]")
        drawn = int(page.evaluate("document.documentElement.dataset.plantsDrawn"))
        assert drawn == page.evaluate("field.plants.x.length - field.crops.find((c) => c.code === 'salad').count")
        for light in ("dark", "sun", "day"):
            page.click("#mode")
            assert page.get_attribute("html", "data-mode") == light
        assert page.problems == []


@needs_browser
def test_in_bright_sun_reasons_differ_by_letter_on_the_map_and_in_the_list(browser, tmp_path):
    look = "(key) => document.querySelector(`#layers input[data-key=${key}]`).parentElement.querySelector('canvas').toDataURL()"
    dark = """() => { field.layers.forEach((l) => { l.shown = Boolean(l.sign); l.ink.sun = ""; }); picture.redraw();
      const c = picture._container, p = c.getContext("2d").getImageData(0, 0, c.width, c.height).data; let n = 0;
      for (let k = 0; k < p.length; k += 4) if (p[k + 3] === 255 && p[k] < 40) n++; return n; }"""
    with opened(browser, write(tmp_path, laid_out(size_m=60.0))) as page:
        signed = page.evaluate("field.layers.filter((l) => l.sign).map((l) => [l.key, l.sign])")
        assert signed
        assert len({sign for _, sign in signed}) == len(signed)
        for mode in ("day", "dark", "sun"):
            page.evaluate(f"setMode('{mode}')")
            assert len({page.evaluate(look, key) for key, _ in signed}) == len(signed)
        page.evaluate("field.crops.forEach((c) => { c.shown = false; }); field.stakes.shown = false")
        with_letters = page.evaluate(dark)
        page.evaluate("field.layers.forEach((l) => { l.sign = l.sign ? ' ' : l.sign; })")
        assert with_letters > page.evaluate(dark) + 20


@needs_browser
@pytest.mark.parametrize("mode", ["day", "dark", "sun"])
def test_letters_stand_out_from_the_paint_of_every_reason(browser, tmp_path, mode):
    fills = [reason_look(code)[1] for code in REASONS]
    paints = [{"day": fill.paint, "dark": fill.dark, "sun": fill.sun}[mode] for fill in fills if fill.paint != "none"]
    with opened(browser, write(tmp_path, laid_out(size_m=30.0))) as page:
        page.evaluate(f"setMode('{mode}')")
        inks = page.evaluate("(paints) => paints.map((paint) => letterInk(paint, looks[mode].ink))", paints)
    assert min(contrast(ink, paint) for ink, paint in zip(inks, paints, strict=True)) >= TEXT


@needs_browser
@pytest.mark.parametrize("mode", ["day", "dark", "sun"])
def test_letters_of_reasons_are_whole_also_in_narrow_strips_and_never_one_over_another(browser, tmp_path, mode):
    spy = """(mode) => { const drawn = [], pen = CanvasRenderingContext2D.prototype, write = pen.fillText; let cuts = 0;
      pen.fillText = function (text, x, y) { drawn.push([text, x, y]); return write.call(this, text, x, y); };
      pen.clip = () => { cuts += 1; }; setMode(mode); picture.redraw(); pen.fillText = write;
      return [cuts, drawn, field.layers.filter((l) => l.sign && l.shown).map((l) => l.sign)]; }"""
    with opened(browser, write(tmp_path, laid_out(size_m=60.0, setback_m=1.0))) as page:
        cuts, drawn, signs = page.evaluate(spy, mode)
    assert cuts == 0
    assert signs
    assert set(signs) <= {text for text, _, _ in drawn}
    for sign in signs:
        places = list(dict.fromkeys((x, y) for text, x, y in drawn if text == sign))
        assert all(max(abs(x - u), abs(y - v)) >= 10 for (x, y), (u, v) in combinations(places, 2))


_SEEN = """(query) => [...document.querySelectorAll(query)].filter((e) => e.offsetParent !== null && getComputedStyle(e).visibility !== "hidden").flatMap((e) => {
  const r = e.getBoundingClientRect(), name = e.id || e.textContent.trim(), wrong = [];
  if (r.left < 0 || r.top < 0 || r.right > innerWidth || r.bottom > innerHeight) wrong.push(`${name}: leaves the screen`);
  if (e.scrollWidth > e.clientWidth + 1) wrong.push(`${name}: cut`);
  for (const [u, v] of [[.1, .2], [.5, .5], [.9, .8]]) {
    const top = document.elementFromPoint(r.left + u * r.width, r.top + v * r.height);
    if (!e.contains(top) && !(top && top.contains(e) && top !== document.body)) wrong.push(`${name}: covered by ${top && (top.id || top.className)}`);
  }
  return wrong; })"""


@needs_browser
@pytest.mark.parametrize("wide", [390, 1280])
@pytest.mark.parametrize("language", ["en", "fr"])
def test_no_button_or_list_is_cut_or_covered(browser, tmp_path, wide, language):
    path = write(tmp_path, laid_out(size_m=30.0), words=Words(language))
    with opened(browser, path, viewport={"width": wide, "height": 780}) as page:
        for mode in ("day", "sun"):
            page.evaluate(f"setMode('{mode}')")
            assert page.evaluate(_SEEN, "button") == []
            page.click("#layers-button")
            assert page.evaluate(_SEEN, "#layers, #tools button") == []
            page.click("#layers-button")
        bar = page.evaluate("document.querySelector('.leaflet-control-scale').getBoundingClientRect().toJSON()")
        assert bar["left"] >= 0
        assert bar["right"] <= wide


@needs_browser
def test_nothing_lies_over_a_card_on_a_phone(browser, tmp_path):
    with opened(browser, write(tmp_path, laid_out(size_m=60.0)), viewport={"width": 390, "height": 780}) as page:
        page.fill("#search input", "row 7")
        page.press("#search input", "Enter")
        page.wait_for_timeout(500)
        over = page.evaluate(
            """() => {
              const card = document.querySelector("#card"), box = card.getBoundingClientRect(), over = [];
              for (let x = box.left + 12; x < box.right - 12; x += 8)
                for (let y = box.top + 12; y < box.bottom - 12; y += 8) {
                  for (const one of document.querySelectorAll(".leaflet-control")) {
                    const r = one.getBoundingClientRect();
                    if (x < r.left || x > r.right || y < r.top || y > r.bottom) continue;
                    one.style.pointerEvents = "auto";
                    if (one.contains(document.elementFromPoint(x, y))) over.push(one.className);
                  }
                }
              return over;
            }"""
        )
        assert over == []


@needs_browser
def test_names_with_script_in_them_do_no_harm(browser, tmp_path):
    crops = CROPS | {"salad": replace(CROPS["salad"], name=EVIL)}
    laid = laid_out(size_m=40.0, crops=crops, name=EVIL)
    laid = replace(laid, plants=laid.plants.assign(stratum=EVIL))
    with opened(browser, write(tmp_path, laid)) as page:
        page.fill("#search input", "<script>")
        page.press("#search input", "Enter")
        page.click("#layers-button")
        assert page.inner_text("#card h3") == EVIL
        assert page.inner_text("h1") == EVIL
        assert page.evaluate("document.documentElement.dataset.harmed") is None
        assert page.evaluate("document.querySelectorAll('img').length") == 0
        assert page.problems == []


@needs_browser
def test_own_place_is_shown_where_the_browser_allows_it_and_refused_in_words_where_not(browser, tmp_path):
    laid = laid_out(size_m=60.0)
    spot = {"longitude": 15.0003, "latitude": 45.1537}
    path = write(tmp_path, laid)
    with opened(browser, path, geolocation=spot, permissions=["geolocation"]) as page:
        page.click("#locate")
        for _ in range(100):
            if page.evaluate("place !== null"):
                break
            page.wait_for_timeout(50)
        got = page.evaluate("[place.x, place.y]")
        true = Transformer.from_crs(4326, builders.UTM, always_xy=True).transform(spot["longitude"], spot["latitude"])
        origin = page.evaluate("head.origin")
        assert np.add(got, origin) == pytest.approx(np.array(true), abs=0.02)
    with opened(browser, path) as page:
        page.click("#locate")
        page.wait_for_selector("#notice:visible")
        assert "gives no position" in page.inner_text("#notice")


PRINTED = """() => {
  const printed = [], pen = CanvasRenderingContext2D.prototype, image = pen.drawImage, dot = pen.fillRect;
  pen.drawImage = function (stamp, x, y, w, h) { printed.push([x + w / 2, y + h / 2, 0.8 * w]); image.apply(this, arguments); };
  pen.fillRect = function (x, y, w, h) { printed.push([x + w / 2, y + h / 2, w]); dot.apply(this, arguments); };
  map.setZoom(map.getZoom() + ZOOM, { animate: false });
  printed.length = 0;
  picture.redraw();
  pen.drawImage = image; pen.fillRect = dot;
  return { printed, grow: 2 ** map.getZoom() };
}"""


@needs_browser
@pytest.mark.parametrize("zoom", [0, 3])
def test_no_mark_is_wider_than_the_way_to_the_next_plant(browser, tmp_path, zoom):
    """Dots far out and shapes close in; four fifths of a stamp's side are drawn on."""
    laid = laid_out(size_m=30.0, plants=crowded)
    with opened(browser, write(tmp_path, laid)) as page:
        page.evaluate("field.crops.forEach((c) => { c.gap = 1; })")
        seen = page.evaluate(PRINTED.replace("ZOOM", str(zoom)))
    x, y, wide = np.array(seen["printed"]).T
    assert len(x) > 20
    apart = np.hypot(x[:, None] - x, y[:, None] - y) + np.diag(np.full(len(x), np.inf))
    assert (wide <= apart.min(axis=1) + 0.02 * seen["grow"]).all()  # places are kept in centimetres
    assert len(np.unique(wide.round(3))) > 1


def crowded(beds):
    plants = together(
        planting(beds), grid_of_plants(beds.tree_beds, spacing_m=0.7, crop="bitter_root", stratum="medium")
    )
    return replace(plants, frame=plants.frame.assign(nearest_m=nearest(plants.frame)))


def nearest(frame):
    xy = frame[["x", "y"]].to_numpy()
    apart = np.hypot(*(xy[:, None] - xy[None]).transpose(2, 0, 1)) + np.diag(np.full(len(xy), np.inf))
    return apart.min(axis=1)


@needs_browser
def test_fifty_thousand_plants_stay_smooth(browser, tmp_path):
    laid = laid_out(size_m=150.0, plants=lambda beds: together(planting(beds), dense(beds)))
    assert len(laid.plants) > 50_000
    path = write(tmp_path, laid, builders.plane(size_m=150.0))
    assert path.stat().st_size < 1_500_000
    with opened(browser, path) as page:
        page.evaluate("picture.redraw()")
        assert float(page.evaluate("document.documentElement.dataset.drawMs")) < 400  # no graphics card, shared machine
        page.evaluate("field.crops.forEach((c) => { c.gap = 1; })")  # draw even those too close to tell apart
        page.evaluate("picture.redraw()")
        assert float(page.evaluate("document.documentElement.dataset.drawMs")) < 600
        assert int(page.evaluate("document.documentElement.dataset.plantsDrawn")) == len(laid.plants)
        began = page.evaluate("performance.now()")
        page.mouse.move(300, 300)
        page.mouse.down()
        for step in range(20):
            page.mouse.move(300 + 8 * step, 300 + 5 * step)
        page.mouse.up()
        assert page.evaluate("performance.now()") - began < 4000
        assert page.problems == []


def dense(beds):
    return grid_of_plants(beds.beds, spacing_m=0.35, crop="bitter_root", stratum="medium")


@pytest.mark.parametrize(("east_m", "north_m"), [(0, 0), (240_000, 1_700_000)])
def test_own_position_agrees_with_the_projection_around_the_field(east_m, north_m):
    """Longitude and latitude to metres as the page's script does it, against PROJ, up to 5 km away: on the zone's meridian
    and at its edge at 60 N, where terms of the third degree make 2 to 3 mm."""
    laid = laid_out(size_m=60.0)
    field = shapely.affinity.translate(laid.boundary, east_m, north_m)
    fit = own_position(replace(laid, boundary=field), (0, 0))
    x, y = np.array(field.centroid.coords[0])[:, None] + np.random.default_rng(3).uniform(-5000, 5000, (2, 400))
    lon, lat = Transformer.from_crs(builders.UTM, 4326, always_xy=True).transform(x, y)
    u, v = lon - fit["lon0"], lat - fit["lat0"]
    terms = [u**i * v ** (n - i) for n in range(4) for i in range(n, -1, -1)]
    off = np.hypot(np.dot(fit["x"], terms) - x, np.dot(fit["y"], terms) - y)
    assert off.max() < 1e-4


def test_data_cannot_end_its_block_and_scripts_are_named_by_checksum():
    laid = laid_out(size_m=40.0, name="</script><b>")
    content = map_content(account_for(laid, ReportRule()), MapData(laid, None, EN), None)
    text = page_text(content, EN)
    block = re.search(r'<script type="application/json" id="data">(.*?)</script>', text, re.S)[1]
    assert "<" not in block
    assert json.loads(block)["name"] == "</script><b>"
    assert len(re.findall(r"sha256-", text)) == 2
    assert "http://" not in re.sub(r"http://www\.w3\.org/\S+", "", text.split("</style>")[-1].split("<script>")[0])
    assert data_text({"a": "\u2028&"}) == '{"a":"\\u2028\\u0026"}'


def test_cautions_of_food_go_with_the_crops_of_the_map():
    laid = laid_out()
    code = laid.plants["crop"].iloc[0]
    careful = replace(laid, crops={**laid.crops, code: replace(laid.crops[code], caution="Never eat it raw.")})
    crops = map_content(account_for(careful, ReportRule()), MapData(careful, None, EN), None)["crops"]
    assert {crop["code"]: crop["caution"] for crop in crops}[code] == "Never eat it raw."


def test_packed_numbers_that_do_not_fit_are_refused():
    with pytest.raises(OutputError, match="out of range"):
        Pack().add("plants.line", [70_000], "u2")


def test_the_same_layout_gives_the_same_page(tmp_path):
    laid = laid_out(size_m=40.0)
    assert write(tmp_path, laid).read_bytes() == write(tmp_path, laid).read_bytes()
    assert shapely.is_valid(laid.boundary)
