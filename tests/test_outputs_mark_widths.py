"""No plant's mark is wider than the distance to its nearest neighbour of the same time, in any product that draws plants."""

from xml.etree import ElementTree

import numpy as np
import pytest
from builders import plane
from plants_builders import arc, crop, one_bed

from geoagro.outputs.drawing.crop_looks import crop_look
from geoagro.outputs.drawing.looks import Style
from geoagro.outputs.geopackage.style_qml import qml
from geoagro.outputs.geopackage.style_sld import sld
from geoagro.outputs.tables.column_words import table_words
from geoagro.outputs.words.say import ENGLISH
from geoagro.plants.placement import place_plants
from geoagro.values.plants import PLANTS
from geoagro.values.recipe import Planting
from geoagro.values.timeline import Timeline

NUMBERS = (*range(7), *range(56, 61))
CROPS = {name: crop(name=name, harvest_weeks=(8, 10)) for name in "abc"}
_OGC = "{http://www.opengis.net/ogc}"
_SE = "{http://www.opengis.net/se}"


@pytest.fixture(scope="module")
def plants():
    """Two crops that drift past each other along a bend, some of them very near, and one that follows on the same places."""
    recipe = [
        Planting(crop="a", bed="vegetable", spacing_m=1.0, offsets_m=(0.0, 0.6)),
        Planting(crop="b", bed="vegetable", spacing_m=0.37, offsets_m=(0.02,)),
        Planting(crop="c", bed="vegetable", spacing_m=1.0, offsets_m=(0.0,), after="a"),
    ]
    return place_plants(one_bed(arc(), 2.0), plane(), CROPS, recipe).frame


@pytest.fixture(scope="module")
def apart(plants):
    """Distance to the nearest plant of the same time, by comparing all with all."""
    xy, kind = plants[["x", "y"]].to_numpy(), Timeline.of(plants)
    far = np.hypot(*(xy[:, None] - xy[None]).T)
    np.fill_diagonal(far, np.inf)
    begin, end = (plants[name].to_numpy() for name in ("plant_week", "harvest_to_week"))
    far[(begin[:, None] >= end) | (begin >= end[:, None])] = np.inf
    assert len(kind.kinds) == 3
    return far.min(axis=1)


def test_each_plant_knows_how_far_its_nearest_neighbour_of_the_same_time_is(plants, apart):
    told = plants["nearest_m"].to_numpy()
    near = apart <= 4.0
    np.testing.assert_allclose(told[near], apart[near], atol=1e-9)
    assert np.isnan(told[~near]).all()
    assert apart.min() < 0.1 < np.median(apart)


def test_a_plant_that_stands_alone_has_no_neighbour():
    frame = place_plants(
        one_bed(arc(), 1.0), plane(), CROPS, [Planting(crop="a", bed="vegetable", spacing_m=9.0)]
    ).frame
    assert frame["nearest_m"].isna().all()


def widths_by_viewer(text: str, plants) -> np.ndarray:
    """Width of each plant's marks with their outlines: the driven expressions, worked out as the viewer would."""
    document = ElementTree.fromstring(text.split("\n", 1)[1])
    widest = np.zeros(len(plants))
    for layer in document.iter("layer"):
        by = {
            o.get("name"): next(v.get("value") for v in o if v.get("name") == "expression")
            for o in layer.iter("Option")
            if o.get("name") in ("size", "outlineWidth") and o.get("type") == "Map"
        }
        size, outline = (worked_out(by[name], plants) for name in ("size", "outlineWidth"))
        widest = np.maximum(widest, size + outline)
    return widest


def worked_out(expression: str, plants) -> np.ndarray:
    known = {
        "max": np.maximum,
        "min": np.minimum,
        "coalesce": lambda column, other: np.where(np.isnan(column), other, column),
    }
    return eval(expression.replace('"nearest_m"', "own"), {"own": plants["nearest_m"].to_numpy(), **known})


@pytest.mark.parametrize("faces", ["", "bearing_deg"])
@pytest.mark.parametrize("position", NUMBERS)
def test_no_mark_in_a_viewer_is_wider_than_its_place(plants, apart, position, faces):
    look = crop_look(position, "low", arrow_from=faces, place_m=float(plants["nearest_m"].median()))
    widths = widths_by_viewer(qml(Style.plain("a", look), PLANTS, table_words(PLANTS, ENGLISH)), plants)
    assert (widths <= np.maximum(apart, 0.02)).all()
    assert widths.max() > 0.5 * look.place_m  # and they are no dots


def widths_by_standard(text: str, plants) -> np.ndarray:
    """Widths by the rules whose filters hold for each plant."""
    widest, own = np.zeros(len(plants)), plants["nearest_m"].to_numpy()
    for rule in ElementTree.fromstring(text).iter(f"{_SE}Rule"):
        holds = np.ones(len(plants), dtype=bool)
        for limit in rule.iter(f"{_OGC}PropertyIsLessThan"):
            holds &= own < float(limit.findtext(f"{_OGC}Literal"))
        for limit in rule.iter(f"{_OGC}PropertyIsGreaterThanOrEqualTo"):
            holds &= ~(own < float(limit.findtext(f"{_OGC}Literal")))
        width = rule.find(f".//{_SE}SvgParameter[@name='stroke-width']")
        total = sum(amount(element, own) for element in (rule.find(f".//{_SE}Size"), width))
        widest = np.where(holds, np.maximum(widest, total), widest)
    return widest


def amount(element, own: np.ndarray) -> np.ndarray:
    product = element.find(f"{_OGC}Mul")
    return (
        np.full(len(own), float(element.text)) if product is None else own * float(product.findtext(f"{_OGC}Literal"))
    )


@pytest.mark.parametrize("faces", ["", "bearing_deg"])
def test_no_mark_by_the_open_standard_is_wider_than_its_place(plants, apart, faces):
    look = crop_look(0, "low", arrow_from=faces, place_m=float(plants["nearest_m"].median()))
    widths = widths_by_standard(sld(Style.plain("a", look), PLANTS, "plants_a"), plants)
    assert (widths <= apart).all() and widths.max() > 0.4 * look.place_m
