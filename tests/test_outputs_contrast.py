"""Marks of crops stand out from the bed that they stand on."""

from itertools import combinations

import numpy as np
import pytest
from outputs_builders import small_layout

from geoagro.outputs.drawing.contrast import LEAST, contrast, standing_out
from geoagro.outputs.drawing.looks import BED, ON_BED, ON_TREE_BED, TREE_BED, crop_look
from geoagro.outputs.layout.layers import layout_layers, plants_layer


def test_contrast_is_that_of_the_published_examples():
    # WCAG 2.1, understanding 1.4.3: #777777 on white is 4.48, a little below 4.5; #767676 reaches it
    assert contrast("#777777", "#ffffff") == pytest.approx(4.48, abs=0.005)
    assert contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.005)


@pytest.mark.parametrize("ground", [BED, TREE_BED])
def test_every_crop_stands_out_from_both_kinds_of_bed(ground):
    for position in range(56):
        paint = standing_out(crop_look(position, "low").paint, ground.paint)
        assert contrast(paint, ground.paint) >= LEAST


@pytest.mark.parametrize("ground", [BED, TREE_BED])
def test_crops_stay_different_on_either_bed(ground):
    marks = [crop_look(position, "low") for position in range(56)]
    assert len({(mark.shape, standing_out(mark.paint, ground.paint)) for mark in marks}) == 56


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
@pytest.mark.parametrize(("paints", "ground"), [(ON_BED, BED), (ON_TREE_BED, TREE_BED)])
def test_eight_crops_on_a_bed_are_told_apart_by_colour_alone_with_any_sight(paints, ground, sight):
    assert len(paints) == 8
    assert all(contrast(paint, ground.paint) >= LEAST for paint in paints)
    for one, other in combinations(paints, 2):
        assert np.linalg.norm(lab(one, sight) - lab(other, sight)) >= 20  # just told apart: 2.3


def test_layers_of_crops_take_paints_of_their_bed_in_turn():
    layers = [layer for layer in layout_layers(small_layout(20)) if layer.group == "Plants"]
    paints = [next(iter(layer.style.looks.values()))[1].paint for layer in layers]
    assert len(set(paints)) == len(paints) == 3
    assert set(paints) <= {*ON_BED, *ON_TREE_BED}


def test_a_mark_is_never_wider_than_its_place():
    layout = small_layout(20)
    for crop, frame in layout.plants.by_crop().items():
        mark = next(
            next(iter(layer.style.looks.values()))[1]
            for layer in layout_layers(layout)
            if layer.name == plants_layer(crop)
        )
        xy = np.column_stack([layout.plants.frame["x"], layout.plants.frame["y"]])
        apart = np.linalg.norm(frame[["x", "y"]].to_numpy()[:, None] - xy[None], axis=2)
        assert 0 < mark.size_m <= np.sort(apart, axis=1)[:, 1].min() + 0.05
