import dataclasses
from itertools import pairwise

import geopandas as gpd
import numpy as np
import pytest
import shapely
from builders import EAST, NORTH, UTM
from hypothesis import given
from hypothesis import strategies as st
from matplotlib.colors import to_hex
from outputs_builders import small_layout
from PIL import Image
from shapely import MultiPolygon, Point, box

from geoagro.outputs.drawing.crop_looks import crop_look
from geoagro.outputs.drawing.looks import BED, PATH, TREE_BED, ZONE, reason_look
from geoagro.outputs.drawing.page import fit_page, round_scale
from geoagro.outputs.drawing.shapes import polygon_patches
from geoagro.outputs.drawing.sheet import few_colours
from geoagro.outputs.layout.picture import draw_layout, write_picture
from geoagro.values.reasons import REASONS
from geoagro.values.zones import ZONE_AREAS, ZONE_CROPS, ZONES, ZoneAccount


def legend_words(layout) -> list[str]:
    return [text.get_text().replace("\n", " ") for text in draw_layout(layout).legends[0].get_texts()]


def test_the_same_layout_gives_the_same_picture_of_a3_size(tmp_path):
    for name in ("a.png", "b.png"):
        write_picture(small_layout(40), tmp_path / name)
    assert (tmp_path / "a.png").read_bytes() == (tmp_path / "b.png").read_bytes()
    with Image.open(tmp_path / "a.png") as image:
        assert sorted(image.size) == [2104, 2976]  # 297 x 420 mm at 180 dots per inch


def test_the_legend_names_only_what_is_drawn():
    layout = small_layout(40)
    words = legend_words(layout)
    assert {"Tree bed", "Vegetable bed", "Path", "Exclusion", "Setback along the boundary"} <= set(words)
    assert "Too steep" not in words
    bare = dataclasses.replace(layout, unplanted=layout.unplanted.iloc[:0], contours=layout.contours.iloc[:0])
    assert not [w for w in legend_words(bare) if w.startswith(("Contour", "Exclusion", "Setback"))]


def test_zones_are_outlined_and_named():
    layout = small_layout(40)
    grounds = [box(EAST + 5, NORTH + 5, EAST + 15, NORTH + 12), MultiPolygon()]
    fill = {"text": "crops", "int": 0, "float": 0.0}
    columns = {field.name: [fill[field.kind]] * 2 for field in ZONES.fields} | {"zone": ["nursery $1", "nowhere"]}
    frame = gpd.GeoDataFrame(columns, geometry=grounds, crs=UTM)
    zoned = dataclasses.replace(layout, zones=ZoneAccount(frame, ZONE_AREAS.empty(), ZONE_CROPS.empty()))
    figure = draw_layout(zoned)
    (name,) = [text for text in figure.axes[0].texts if text.get_text() == "nursery $1"]
    assert grounds[0].contains(Point(name.get_position()))
    outlines = [patch for patch in figure.axes[0].patches if to_hex(patch.get_edgecolor()) == ZONE.ink]
    assert len(outlines) == 1 and outlines[0].get_path().get_extents().bounds == pytest.approx(
        (EAST + 5, NORTH + 5, 10, 7)
    )
    assert "Zone, with its name" in legend_words(zoned) and "Zone, with its name" not in legend_words(layout)


def test_a_field_without_heights_is_shaded_by_slope():
    layout = small_layout(40)
    terrain = dataclasses.replace(layout.terrain, heights=None, smooth=None, aspect_deg=None)
    assert draw_layout(dataclasses.replace(layout, terrain=terrain)).axes[0].images


def test_dollar_signs_and_long_names_are_plain_text(tmp_path):
    layout = small_layout(40, name="Block $A$ " + "of the invented holding with a long name " * 2)
    write_picture(layout, tmp_path / "a.png")
    assert any("$A$" in text.get_text() for text in draw_layout(layout).texts)


@pytest.mark.parametrize(("east", "north"), [(300.0, 100.0), (100.0, 300.0), (200.0, 200.0)])
def test_the_page_holds_the_whole_field_at_one_scale(east, north):
    page = fit_page((0.0, 0.0, east, north))
    west, south, right, top = page.extent
    assert west < 0
    assert south < 0
    assert right > east
    assert top > north
    width_mm, height_mm = (share * side for share, side in zip(page.map_rectangle[2:], page.size_mm, strict=True))
    assert (right - west) * page.mm_per_m == pytest.approx(width_mm)
    assert (top - south) * page.mm_per_m == pytest.approx(height_mm)


def test_holes_stay_open():
    ring = box(0, 0, 10, 10).difference(box(4, 4, 6, 6))
    (patch,) = polygon_patches([ring], mm_per_m=1.0)
    assert patch.get_path().contains_point((1, 1))
    vertices = patch.get_path().to_polygons()
    signed = [np.sum(v[:-1, 0] * v[1:, 1] - v[1:, 0] * v[:-1, 1]) / 2 for v in vertices]
    assert sorted(signed) == [-4, 100]  # opposite turns: the rasteriser leaves the hole empty


def test_a_hole_in_the_field_shows_as_outside(tmp_path):
    layout = small_layout(40)
    hole = box(EAST + 15, NORTH + 15, EAST + 25, NORTH + 25)
    site = dataclasses.replace(layout.site, boundary=MultiPolygon([layout.site.boundary.geoms[0].difference(hole)]))
    figure = draw_layout(dataclasses.replace(layout, site=site))
    outside = [p for p in figure.axes[0].patches if p.get_alpha() == 0.55]
    assert any(p.get_path().contains_point((EAST + 20, NORTH + 20)) for p in outside)


def test_beds_paths_and_tree_beds_differ_in_black_and_white():
    steps = sorted(lightness(look.paint) for look in (TREE_BED, BED, PATH))
    assert np.diff(steps).min() >= 20  # plain to the eye; own choice, no source


def test_reasons_differ_in_black_and_white():
    kinds = [reason_look(reason)[1] for reason in REASONS]
    for hatch in {look.hatch for look in kinds}:
        alike = sorted(lightness(look.paint) for look in kinds if look.hatch == hatch)
        assert np.diff(alike).min(initial=100.0) >= 12, hatch  # plain to the eye; own choice, no source


def test_neighbouring_crops_differ_in_shape_and_lightness_or_hue():
    marks = [crop_look(k, "low") for k in range(56)]
    assert len({(m.shape, m.paint) for m in marks}) == 56
    assert all(a.shape != b.shape and a.paint != b.paint for a, b in pairwise(marks))


def lightness(colour: str) -> float:
    """CIE L* of a colour in black and white: 116 * cube root of luminance - 16 (CIE 15:2004)."""
    rgb = np.array([int(colour[k : k + 2], 16) / 255 for k in (1, 3, 5)])
    linear = np.where(rgb <= 0.04045, rgb / 12.92, ((rgb + 0.055) / 1.055) ** 2.4)  # sRGB, IEC 61966-2-1
    return float(116 * np.cbrt(linear @ [0.2126, 0.7152, 0.0722]) - 16)


def test_a_large_field_shows_only_the_heavier_contours():
    layout = small_layout(60)
    lines = [shapely.LineString([(EAST, NORTH + k * 0.2), (EAST + 60, NORTH + k * 0.2)]) for k in range(1, 300)]
    many = gpd.GeoDataFrame(
        {"elevation_m": np.arange(1, 300) * 0.1, "is_index": np.arange(1, 300) % 5 == 0}, geometry=lines, crs=UTM
    )
    words = legend_words(dataclasses.replace(layout, contours=many))
    assert [w for w in words if w.startswith("Contour")] == ["Contour with its elevation, every 0.5\u00a0m"]


def test_rows_carry_their_numbers_at_both_ends_and_no_two_numbers_touch():
    layout = small_layout(60)
    figure = draw_layout(layout)
    numbers = [text for text in figure.axes[0].texts if text.get_fontweight() == "bold"]
    shown = [int(text.get_text()) for text in numbers]
    assert shown.count(1) == 2
    assert len(shown) >= len(layout.rows.frame)  # every second row at each end
    figure.canvas.draw()
    boxes = [text.get_window_extent() for text in numbers]
    assert not any(a.overlaps(b) for k, a in enumerate(boxes) for b in boxes[k + 1 :])


@given(st.floats(5, 20_000))
def test_scales_are_round_and_never_cut_the_field(denominator):
    scale = round_scale(denominator)
    assert denominator * (1 - 1e-6) <= scale <= 1.5 * denominator
    assert float(f"{scale:.3g}") == pytest.approx(scale)


def _page_of(colours, seed):
    """Make a page of runs of these colours, with a line of single dots."""
    rng = np.random.default_rng(seed)
    line = np.repeat(colours[rng.integers(0, len(colours), 900)], rng.integers(1, 200, 900), axis=0)[:60_000]
    page = np.full((300, 200, 4), 255, dtype=np.uint8)
    page.reshape(-1, 4)[: len(line), :3] = line
    page[150, : len(colours), :3] = colours[:200]
    return page


def test_a_page_of_few_colours_keeps_each_of_them():
    colours = np.random.default_rng(1).integers(0, 256, (200, 3), dtype=np.uint8)
    page = _page_of(colours, 2)
    assert np.array_equal(np.asarray(few_colours(page).convert("RGB")), page[..., :3])


def test_a_page_of_many_colours_looks_as_the_plain_way_to_256_of_them():
    steps = np.linspace(0, 255, 3000)
    shades = np.column_stack([steps, 255 - steps / 2, 90 + 40 * np.sin(steps / 9)]).astype(np.uint8)
    page = _page_of(shades, 3)
    plain = Image.fromarray(page[..., :3]).quantize(256, dither=Image.Dither.NONE).convert("RGB")
    own = few_colours(page).convert("RGB")
    off, usual = (np.abs(np.asarray(one).astype(int) - page[..., :3]) for one in (own, plain))
    assert off.mean() <= 1.1 * usual.mean() + 0.05
    assert off.max() <= usual.max() + 6


def test_paints_stay_exactly_as_they_are_beside_any_number_of_shades():
    """So that a thing has the same colour on all pages, whatever else each of them shows."""
    shades = np.random.default_rng(2).integers(0, 256, (400, 300, 3), dtype=np.uint8)
    page = np.dstack([shades, np.full(shades.shape[:2], 255, np.uint8)])
    paints = np.array([[181, 155, 124], [163, 150, 124], [38, 110, 104]], dtype=np.uint8)
    for k, paint in enumerate(paints):
        page[10 * k : 10 * k + 6, 20:60, :3] = paint
    kept = np.asarray(few_colours(page).convert("RGB"))
    assert all((kept[10 * k : 10 * k + 6, 20:60] == paint).all() for k, paint in enumerate(paints))
