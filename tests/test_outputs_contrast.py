"""Marks of crops stand out from the bed that they stand on."""

import pytest

from geoagro.outputs.drawing.contrast import LEAST, contrast, standing_out
from geoagro.outputs.drawing.looks import BED, TREE_BED, crop_look


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
