"""Laws that beds keep on rows of any shape."""

import numpy as np
import shapely
from bed_builders import all_of, assert_sound, rows_of
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import LineString, Point, box
from shapely.affinity import rotate, scale

from geoagro.beds.layout import lay_beds
from geoagro.values.design import BedRule

SIZE = 60.0


@st.composite
def fields(draw):
    """Waving rows whose distance drifts, some of them ending inside a turned field with a hole."""
    wave = draw(st.floats(0, 3)), draw(st.floats(6, 15)), draw(st.floats(-0.002, 0.002))
    drift = draw(st.lists(st.floats(0.9, 1.2), min_size=5, max_size=5))
    stops = draw(st.lists(st.floats(0.3, 1.0), min_size=5, max_size=5))
    x = np.linspace(0, SIZE, 121)
    field = rotate(box(1, -1, SIZE - 1, 25), draw(st.floats(-8, 8)))
    field = field.difference(Point(draw(st.floats(10, 50)), draw(st.floats(0, 20))).buffer(draw(st.floats(0.1, 3))))
    y, lines = 22.0, []
    for step, stop in zip(drift, stops, strict=True):
        bend = wave[0] * np.sin(x / wave[1]) + wave[2] * (x - SIZE / 2) ** 2 * (y / 25)
        row = LineString(np.column_stack([x, y + bend])[: round(stop * len(x))][::-1])
        parts = [p for p in shapely.get_parts(row.intersection(field)) if p.length > 5]
        lines += [p if p.coords[0][0] < p.coords[-1][0] else p.reverse() for p in parts]
        y -= 4.5 * step
    return lines, field


@settings(max_examples=25, deadline=None, derandomize=True)
@given(fields(), st.sampled_from([(1.0, 1.0, 0.3), (0.8, 0.6, 0.25), (1.2, 1.6, 0.5)]))
def test_beds_keep_their_width_and_distance_and_everything_adds_up(field, widths):
    lines, area = field
    rows, ground = rows_of(lines), all_of(area)
    rule = BedRule(tree_bed_width_m=widths[0], bed_width_m=widths[1], path_width_m=widths[2])
    beds = lay_beds(rows, ground.plantable, rule)
    assert_sound(ground, rows, beds, path_m=widths[2])


@settings(max_examples=10, deadline=None, derandomize=True)
@given(fields())
def test_mirrored_rows_give_mirrored_beds(field):
    lines, area = field
    mirrored = [scale(line, xfact=-1, origin=(0, 0)).reverse() for line in lines]  # upslope stays on the left
    here = lay_beds(rows_of(lines), all_of(area).plantable, BedRule()).beds
    there = lay_beds(rows_of(mirrored), all_of(scale(area, xfact=-1, origin=(0, 0))).plantable, BedRule()).beds
    back = scale(shapely.union_all(there.geometry.to_numpy()), xfact=-1, origin=(0, 0))
    assert back.symmetric_difference(shapely.union_all(here.geometry.to_numpy())).area < 0.01 * here.area.sum() + 1e-6
    assert here.groupby(["row", "side", "order"]).size().equals(there.groupby(["row", "side", "order"]).size())
