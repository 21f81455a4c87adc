"""Layers as streams of blocks: the same rows whatever the size of a block, points as the standard writes them."""

import numpy as np
import pyarrow as pa
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from geoagro import example_layout
from geoagro.outputs.geopackage.blocks import layer_stream, points_wkb
from geoagro.outputs.layout.layers import layout_layers


@pytest.fixture(scope="module")
def layers():
    return layout_layers(example_layout())


@pytest.mark.parametrize("rows", [1000, 4097])
def test_blocks_hold_the_same_rows_as_the_whole(layers, rows):
    for layer in layers:
        assert layer_stream(layer, rows=rows).read_all().equals(layer_stream(layer, rows=10**9).read_all())


def test_no_block_is_larger_than_asked(layers):
    largest = max(layers, key=lambda layer: len(layer.frame))
    sizes = [batch.num_rows for batch in layer_stream(largest, rows=700)]
    assert sum(sizes) == len(largest.frame) > 700
    assert set(sizes[:-1]) == {700}


def test_an_empty_layer_is_one_block_without_rows(layers):
    first = layers[0]
    empty = first.__class__(first.spec, first.frame.iloc[:0], first.style)
    batches = list(layer_stream(empty))
    assert [batch.num_rows for batch in batches] == [0]
    assert batches[0].schema == layer_stream(first).schema


@settings(max_examples=50)
@given(hnp.arrays(np.float64, st.tuples(st.integers(1, 40), st.just(2)), elements=st.floats(-1e7, 1e7)))
def test_points_are_the_bytes_that_the_reference_library_writes(xy):
    """Well-known binary of OGC 06-103r4; GEOS writes it through shapely."""
    assert points_wkb(xy).to_pylist() == list(shapely.to_wkb(shapely.points(xy), output_dimension=2))


def test_a_point_by_hand():
    """Byte order 1, type 1, then x = 2 and y = 4 as little-endian doubles (OGC 06-103r4, 8.2)."""
    told = points_wkb(np.array([[2.0, 4.0]]))
    assert told.type == pa.binary()
    assert told[0].as_py().hex() == "01" + "01000000" + "0000000000000040" + "0000000000001040"
