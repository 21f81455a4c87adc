"""Marks of crops stand out from the bed that they stand on."""

import ast
import re
from itertools import combinations
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from outputs_builders import small_layout

import geoagro
from geoagro.inputs.design.crop_library import read_crop_library
from geoagro.outputs.drawing import looks
from geoagro.outputs.drawing.contrast import LEAST, TEXT, contrast, standing_out
from geoagro.outputs.drawing.crop_looks import (
    CROP_ORDER,
    CROP_PAINTS,
    crop_hatch,
    crop_look,
    crop_numbers,
    hatch_ink,
    rule_paint,
)
from geoagro.outputs.drawing.looks import BED, CONTOUR, INDEX_CONTOUR, INK, PATH, PLANTABLE, TREE_BED, TREE_ROW
from geoagro.outputs.layout.layers import layout_layers, plants_layer
from geoagro.values.reasons import REASONS


def test_contrast_is_that_of_the_published_examples():
    # WCAG 2.1, understanding 1.4.3: #777777 on white is 4.48, a little below 4.5; #767676 reaches it
    assert contrast("#777777", "#ffffff") == pytest.approx(4.48, abs=0.005)
    assert contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.005)


@pytest.mark.parametrize("ground", [BED, TREE_BED, PATH, PLANTABLE])
@pytest.mark.parametrize("line", [INK, TREE_ROW.ink, CONTOUR.ink, INDEX_CONTOUR.ink])
def test_outlines_rows_and_contours_stand_out_from_all_ground_that_is_used(line, ground):
    assert contrast(line, ground.paint) >= LEAST


@pytest.mark.parametrize("ground", [BED, TREE_BED, PATH])
def test_outlines_of_marks_stand_out_on_screens_in_the_dark_and_in_the_sun(ground):
    assert contrast("#f2f5f6", ground.dark) >= LEAST  # the outline in paint.js
    assert contrast(INK, ground.sun) >= LEAST


def test_every_library_crop_has_a_look_of_its_own():
    library = set(read_crop_library())
    assert set(CROP_ORDER) == library
    looks = {(mark.shape, mark.paint) for mark in (crop_look(k, "low") for k in range(len(CROP_ORDER)))}
    assert len(looks) == len(CROP_ORDER) == len(library)


def test_crops_of_one_paint_differ_in_mark_and_in_hatch():
    looks = [(crop_look(k, "low"), crop_hatch(k)) for k in range(96)]
    shared = [(a, b) for a, b in combinations(looks, 2) if a[0].paint == b[0].paint]
    assert len(shared) == 8 * 12 * 11 // 2
    assert all(a[0].shape != b[0].shape and a[1] != b[1] for a, b in shared)


@pytest.mark.parametrize("paint", CROP_PAINTS)
def test_a_hatch_stands_out_from_its_paint(paint):
    assert contrast(hatch_ink(paint), paint) >= LEAST


def test_a_crops_look_is_the_same_whatever_else_grows():
    few, many = crop_numbers(["taro", "bean"]), crop_numbers([*CROP_ORDER, "own"])
    assert all(many[crop] == number for crop, number in few.items())


@given(st.sets(st.text(min_size=1, max_size=6), max_size=40))
def test_crops_of_ones_own_take_looks_that_no_other_crop_here_has(own):
    numbers = crop_numbers({*own, "taro", "bean"})
    assert len(set(numbers.values())) == len(numbers)
    assert numbers == crop_numbers([*sorted(own, reverse=True), "bean", "taro"])


def test_a_colour_that_stands_out_stays_as_it_is():
    assert standing_out("#000000", "#ffffff") == "#000000"


SIGHTS = {  # Machado, Oliveira and Fernandes (2009), severity 1.0, linear RGB; values from memory, each row adds up to 1
    "full": [[1, 0, 0], [0, 1, 0], [0, 0, 1]],
    "without red": [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]],
    "without green": [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.01182, 0.04294, 0.968881]],
    "without blue": [[1.255528, -0.076749, -0.178779], [-0.078411, 0.930809, 0.147602], [0.004733, 0.691367, 0.3039]],
}
TO_XYZ = np.array(  # IEC 61966-2-1, D65
    [[0.4124564, 0.3575761, 0.1804375], [0.2126729, 0.7151522, 0.0721750], [0.0193339, 0.1191920, 0.9503041]]
)


def lab(colour, sight):
    """CIE L*a*b* (1976) of a colour as an eye with this sight has it."""
    rgb = np.array([int(colour[k : k + 2], 16) / 255 for k in (1, 3, 5)])
    linear = np.where(rgb <= 0.04045, rgb / 12.92, ((rgb + 0.055) / 1.055) ** 2.4)
    xyz = TO_XYZ @ np.clip(np.array(SIGHTS[sight]) @ linear, 0, 1) / np.array([0.95047, 1.0, 1.08883])
    f = np.where(xyz > 216 / 24389, np.cbrt(xyz), (24389 / 27 * xyz + 16) / 116)
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])


def test_the_matrices_keep_white_white():
    for matrix in SIGHTS.values():
        assert np.sum(matrix, axis=1) == pytest.approx([1, 1, 1], abs=1e-5)


@pytest.mark.parametrize("sight", SIGHTS)
def test_the_eight_paints_of_crops_are_told_apart_by_colour_alone_with_any_sight(sight):
    for one, other in combinations(CROP_PAINTS, 2):
        assert np.linalg.norm(lab(one, sight) - lab(other, sight)) >= 28  # just told apart: 2.3


def test_paints_of_crops_follow_their_rule_lightness_first():
    steps = np.array([lab(paint, "full") for paint in CROP_PAINTS])
    assert steps[:, 0] == pytest.approx(
        np.arange(20, 91, 10), abs=0.6
    )  # to the nearest of 256 steps of red, green, blue
    hues = np.degrees(np.arctan2(steps[:, 2], steps[:, 1]))
    turned = (hues - 70 - 120 * np.arange(8) + 180) % 360 - 180
    assert np.abs(turned).max() < 3


def test_no_other_start_of_the_circle_tells_more_apart():
    def least(start):
        paints = [rule_paint(lightness, (start + 120 * k) % 360, 55) for k, lightness in enumerate(range(20, 91, 10))]
        seen = [[lab(paint, sight) for paint in paints] for sight in SIGHTS]
        return min(np.linalg.norm(a - b) for one in seen for a, b in combinations(one, 2))

    others = [least(start) for start in range(0, 360, 10)]
    assert least(70) == max(others)


def test_layers_of_crops_look_as_their_crops_do_everywhere():
    layout = small_layout(20)
    numbers = crop_numbers(layout.plants.by_crop())
    for crop, number in numbers.items():
        layer = next(layer for layer in layout_layers(layout) if layer.name == plants_layer(crop))
        mark = next(iter(layer.style.looks.values()))[1]
        assert (mark.paint, mark.shape) == (crop_look(number, None).paint, crop_look(number, None).shape)


OUTPUTS = Path(geoagro.__file__).parent / "outputs"
NAMES = {"FAINT", "_FAINT", "GREY", "_GREY", "BLACK", "INK", "ACCENT", "WARN"}


def inks(path):
    """Names and colours that text is drawn with, as the files themselves call them."""
    source = path.read_text(encoding="utf-8")
    if path.suffix == ".typ":
        yield from re.findall(r"#let (ink|grey|faint|deep|warn) = rgb\(\"(#[0-9a-f]{6})\"\)", source)
        return
    for node in ast.parse(source).body:
        if isinstance(node, ast.Assign):
            target, value = node.targets[0], node.value
            several = isinstance(target, ast.Tuple) and isinstance(value, ast.Tuple)
            pairs = zip(target.elts, value.elts, strict=True) if several else [(target, value)]
            for one, colour in pairs:
                if getattr(one, "id", "") in NAMES and isinstance(colour, ast.Constant):
                    yield one.id, colour.value


TEXT_INKS = [
    (path.relative_to(OUTPUTS).as_posix(), name, colour)
    for path in sorted(OUTPUTS.rglob("*"))
    if path.suffix in (".py", ".typ")
    for name, colour in inks(path)
    if re.fullmatch("#[0-9a-f]{6}", str(colour))
]


@pytest.mark.parametrize(("where", "name", "colour"), TEXT_INKS)
def test_inks_of_text_stand_out_from_paper(where, name, colour):
    assert contrast(colour, "#ffffff") >= TEXT


def test_inks_of_text_are_found():
    assert len(TEXT_INKS) >= 12
    assert {where.split("/")[0] for where, _, _ in TEXT_INKS} >= {
        "beds",
        "drawing",
        "report",
        "season",
        "stakes",
        "options",
    }


@pytest.mark.parametrize("mode", ["day", "dark", "sun"])
def test_text_on_the_map_page_stands_out_in_every_mode(mode):
    css = (OUTPUTS / "map" / "script" / "look.css").read_text(encoding="utf-8")
    start = css.index(":root {" if mode == "day" else f':root[data-mode="{mode}"]')
    colours = dict(re.findall(r"--([a-z-]+): (#[0-9a-f]{6})", css[start : css.index("}", start)]))
    for ink, ground in (
        ("ink", "panel"),
        ("faint", "panel"),
        ("ink", "ground"),
        ("on-deep", "deep"),
        ("warn", "panel"),
    ):
        assert contrast(colours[ink], colours[ground]) >= TEXT, (ink, ground)


def lightness_of(paint):
    """CIE L* of a paint (CIE 15, from its relative luminance, WCAG 2 definition)."""
    share = np.array([int(paint[k : k + 2], 16) for k in (1, 3, 5)]) / 255
    linear = np.where(share <= 0.04045, share / 12.92, ((share + 0.055) / 1.055) ** 2.4)
    return 116 * np.cbrt(linear @ [0.2126, 0.7152, 0.0722]) - 16


def test_grounds_without_colour_differ_by_lightness_or_hatch():
    """As a grey print shows them: of two with the same hatch one is lighter by 8 steps of CIE L* at least."""
    grounds = {"bed": looks.BED, "tree bed": looks.TREE_BED, "path": looks.PATH, "drawn track": looks.TRACK}
    grounds |= {code: looks.reason_look(code)[1] for code in REASONS if code != "track"}
    alike = [
        (one, other)
        for (one, first), (other, second) in combinations(grounds.items(), 2)
        if first.hatch == second.hatch and abs(lightness_of(first.paint) - lightness_of(second.paint)) < 8
    ]
    assert alike == []
