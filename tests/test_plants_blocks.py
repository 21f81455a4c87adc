"""Plants of large fields come in blocks: nothing in them tells where blocks meet, and files are those of the whole."""

import time
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from datetime import date

import numpy as np
import pandas as pd
import pyarrow as pa
import pyogrio
import pytest
import shapely
from builders import plane, straight_beds, straight_rows
from hypothesis import given, settings
from hypothesis import strategies as st
from plants_builders import arc, crop, one_bed

from geoagro import example_field, example_layout, lay_out, read_crop_library
from geoagro.errors import DesignError, OutputError
from geoagro.inputs.laid.layout_file import read_layout_file
from geoagro.outputs.layout.files import write_layout
from geoagro.pipeline.recipe import recipe_of
from geoagro.plants.blocks.field import place_field
from geoagro.plants.blocks.split import Neighbourhood, parted, taken
from geoagro.plants.placement import place_plants
from geoagro.plants.strips import strips_of
from geoagro.values.plants import PLANTS
from geoagro.values.recipe import Planting
from geoagro.values.results.stored_plants import BlockFile, Counting, StoredPlants
from geoagro.values.season import SeasonRule

BEDS = straight_beds(straight_rows())
CROPS = {name: crop() for name in ("a", "b", "c", "d", "t")}
RECIPE = [
    Planting(crop="t", bed="tree", spacing_m=3.0, thin=[{"year": 5, "keep_pct": 50}]),
    Planting(crop="a", bed="vegetable", lines=2, spacing_m=0.7, direction="auto"),
    Planting(crop="b", bed="vegetable", beside={"planting": "a", "where": "behind", "distance_m": 0.3}),
    Planting(crop="c", bed="vegetable", instead_of="a", side="down", every=3),
    Planting(name="d", bed="vegetable", spacing_m=0.5, sequence=["d", "-"], week=60),
]


def blocks(recipe=RECIPE, beds=BEDS, **more) -> StoredPlants:
    asked = {"at_once": 100, "per_block": 900, "start": date(2027, 3, 1), "season": SeasonRule(years=2)}
    found = place_field(beds, plane(), CROPS, recipe, **asked | more)
    assert isinstance(found, StoredPlants)
    return found


def at_once(recipe=RECIPE, beds=BEDS):
    return place_plants(beds, plane(), CROPS, recipe, start=date(2027, 3, 1), season=SeasonRule(years=2))


@pytest.fixture(scope="module")
def usual():
    """The usual recipe, whole and in blocks."""
    return at_once(), blocks()


def test_plants_in_blocks_are_those_of_the_whole_field(usual):
    whole, stored = usual
    assert len(stored.file) > 5
    pd.testing.assert_frame_equal(stored.frame, whole.frame, rtol=0, atol=1e-8)


def test_the_smallest_blocks_change_nothing_either(usual):
    pd.testing.assert_frame_equal(blocks(per_block=1).frame, usual[0].frame, rtol=0, atol=1e-8)


def test_blocks_tell_what_the_whole_field_tells(usual):
    whole, stored = usual
    told = [
        f.text for f in stored.findings if " pairs of plants " not in f.text and "nearer to each other" not in f.text
    ]
    assert told == [
        f.text for f in whole.findings if " pairs of plants " not in f.text and "nearer to each other" not in f.text
    ]
    assert {f.where for f in stored.findings} == {f.where for f in whole.findings}


def test_counts_of_blocks_are_those_of_the_whole_field(usual):
    whole, stored = usual
    assert stored.count == whole.count
    pd.testing.assert_series_equal(stored.per_crop(), whole.per_crop(), check_names=False, check_index_type=False)
    pd.testing.assert_frame_equal(stored.per_row_and_crop(), whole.per_row_and_crop())
    season = SeasonRule(years=2)
    assert stored.timeline(CROPS, season).kinds == whole.timeline(CROPS, season).kinds


def test_a_crop_beside_another_that_fits_in_no_bed_is_refused_in_blocks_too():
    far = [
        RECIPE[1],
        Planting(crop="b", bed="vegetable", beside={"planting": "a", "where": "upslope", "distance_m": 5}),
    ]
    with pytest.raises(DesignError, match="every place beside 'a' lies outside the bed"):
        blocks(far)


def test_plants_on_one_place_are_found_in_blocks():
    twice = [Planting(crop="a", bed="vegetable"), Planting(crop="b", bed="vegetable")]
    found = blocks(twice, per_block=200).findings
    assert any("stand on one place at the same time in the beds looked at" in f.text for f in found)


def test_a_field_of_few_plants_is_placed_at_once():
    assert not isinstance(place_field(BEDS, plane(), CROPS, RECIPE), StoredPlants)


def test_a_full_disk_is_told_with_the_way_out(monkeypatch):
    file = BlockFile(in_memory=0)

    class Full:
        def seek(self, *_):
            return 0

        def write(self, _):
            raise OSError(28, "No space left on device")

    monkeypatch.setattr(file, "_file", Full())
    counting = Counting(BEDS.beds.crs)
    counting.file = file
    with pytest.raises(OutputError, match="TMPDIR"):
        counting.add(next(blocks().tables(PLANTS.columns)))


@pytest.mark.parametrize("room", [0, 150, 500, 10_000])
def test_blocks_are_read_as_they_were_put_from_memory_and_file(room):
    file, tables = BlockFile(in_memory=room), list(blocks(per_block=100).tables(PLANTS.columns))
    batches = [pa.RecordBatch.from_pandas(table, preserve_index=False) for table in tables]
    for batch in batches:
        file.append(batch)
    assert len(file) == len(batches) > 3
    for _ in range(2):
        assert all(one.equals(other) for one, other in zip(file.batches(), batches, strict=True))


@pytest.mark.parametrize("room", [0, 150, 10_000])
def test_blocks_are_read_while_others_are_put_behind_them(room):
    file, tables = BlockFile(in_memory=room), list(blocks(per_block=100).tables(PLANTS.columns))
    batches = [pa.RecordBatch.from_pandas(table, preserve_index=False) for table in tables]
    with ThreadPoolExecutor(2) as pool:
        readers = [pool.submit(lambda: list(file.arriving())) for _ in range(2)]
        for batch in batches:
            file.append(batch)
            time.sleep(0.01)
        assert not any(reader.done() for reader in readers)
        file.end()
        for reader in readers:
            assert all(one.equals(other) for one, other in zip(reader.result(), batches, strict=True))
    assert len(list(file.arriving())) == len(batches)


@settings(max_examples=25, deadline=None)
@given(st.floats(20, 80), st.floats(0.5, 8), st.integers(0, 60))
def test_every_strip_within_reach_of_a_block_comes_with_it(radius, reach, first):
    strips = strips_of(BEDS) if first % 2 else strips_of(one_bed(arc(radius)))
    own = np.arange(min(first, len(strips) - 1), min(first + 3, len(strips)))
    near = shapely.STRtree(strips.polygon).query(strips.polygon[own], predicate="dwithin", distance=reach)[1]
    assert set(near) <= set(Neighbourhood(strips, reach).of(own))


@given(st.floats(1, 5000), st.integers(0, 2**32 - 1))
def test_blocks_are_whole_rows_and_hold_every_strip_once(most, seed):
    strips = strips_of(BEDS)
    plants = np.random.default_rng(seed).uniform(0, 300, len(strips))
    found = parted(strips, plants, most)
    assert np.concatenate(found).tolist() == list(range(len(strips)))
    rows = [set(strips.row[block]) for block in found]
    assert sum(map(len, rows)) == len(set(strips.row))
    assert all(plants[block].sum() <= most or len(held) == 1 for block, held in zip(found, rows, strict=True))


@pytest.fixture(scope="module")
def both(tmp_path_factory):
    """The example written from a frame and from blocks."""
    laid = example_layout()
    counting = Counting(laid.plants.crs)
    table = pd.DataFrame(laid.plants.frame[PLANTS.columns])
    texts = {f.name: "category" for f in PLANTS.fields if f.kind == "text"}
    for part in np.array_split(np.arange(len(table)), 4):
        counting.add(table.iloc[part].astype(texts).reset_index(drop=True))
    stored = replace(laid, plants=counting.plants(laid.plants.findings))
    folders = [tmp_path_factory.mktemp(name) for name in ("frame", "blocks")]
    return laid, stored, [write_layout(one, folder)[0] for one, folder in zip((laid, stored), folders, strict=True)]


def test_a_file_from_blocks_holds_what_a_file_from_a_frame_holds(both):
    *_, (frame, parts) = both
    names = [name for name, _ in pyogrio.list_layers(frame)]
    assert [name for name, _ in pyogrio.list_layers(parts)] == names
    for name in names:
        one, other = (pyogrio.read_dataframe(path, layer=name, fid_as_index=True) for path in (frame, parts))
        pd.testing.assert_frame_equal(one, other)


def test_a_layout_in_blocks_has_the_tables_of_the_whole(monkeypatch):
    whole = example_layout()
    monkeypatch.setitem(place_field.__kwdefaults__, "at_once", 1000)
    monkeypatch.setitem(place_field.__kwdefaults__, "per_block", 900)
    laid = lay_out(*example_field(), read_crop_library())
    assert isinstance(laid.plants, StoredPlants)
    assert laid.tables == whole.tables
    assert laid.findings == whole.findings


def test_seals_made_on_the_way_into_the_file_hold_for_what_a_reader_gets(both):
    *_, (frame, parts) = both
    sealed = read_layout_file(parts).sealed
    assert sealed.edited() == ()
    assert sealed.seals["plants_lettuce"].sha256 == read_layout_file(frame).sealed.seals["plants_lettuce"].sha256


def test_a_recipe_in_blocks_is_analysed_on_rows_spread_over_the_field(both):
    laid, stored, _ = both
    few = recipe_of(stored, read_crop_library())
    assert few.sampling.startswith("5,490 of 5,490 plants, on 6 rows in 4 runs over the field")
    pd.testing.assert_frame_equal(few.kind_cover, recipe_of(laid, read_crop_library()).kind_cover)


def test_blocks_that_are_placed_at_once_share_no_polygon():
    """A prepared polygon works out what it needs when it is first asked, which two threads may not do at once."""
    strips = strips_of(BEDS)
    one, other = taken(strips, np.arange(0, 4)), taken(strips, np.arange(2, 6))
    assert not {id(shape) for shape in one.polygon} & {id(shape) for shape in (*other.polygon, *strips.polygon)}
    assert shapely.equals(one.polygon[2:], other.polygon[:2]).all()
