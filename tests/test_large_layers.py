"""Layers too large to be read at once are looked at, held against their seals and exported in parts."""

import sqlite3
from contextlib import closing
from functools import partial
from shutil import copytree

import geopandas as gpd
import pandas as pd
import pyarrow.parquet as pq
import pytest

from geoagro import example_layout
from geoagro.errors import EditedError, MemoryShortError, OutputError
from geoagro.inputs.laid import sealed
from geoagro.inputs.laid.layout_file import read_layout_file
from geoagro.outputs.exchange.formats import write_layers
from geoagro.outputs.layout.files import write_layout
from geoagro.pipeline import sizes

LARGE = "plants_lettuce"


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    place = tmp_path_factory.mktemp("laid")
    write_layout(example_layout(), place)
    return place


@pytest.fixture
def small_parts(monkeypatch):
    """Take layers of more than 1,000 features for large, 700 at once."""
    monkeypatch.setattr(sealed, "AT_ONCE", 1000)
    monkeypatch.setattr(sealed, "layer_parts", partial(sealed.layer_parts, rows=700))


def test_parts_of_a_layer_are_the_whole(folder, small_parts):
    file = read_layout_file(folder)
    assert file.is_large(LARGE)
    assert not file.is_large("plants_apple")
    parts = list(file.parts(LARGE))
    assert [len(part) for part in parts] == [700] * 7 + [500]
    pd.testing.assert_frame_equal(pd.concat(parts, ignore_index=True), file.frame(LARGE))


def test_a_table_of_all_plants_is_read_part_by_part_and_holds_what_the_layers_hold(folder, small_parts):
    file = read_layout_file(folder, large_later=True)
    table, frame = file.plant_table(), pd.DataFrame(file.plants())
    assert "geometry" not in table.columns
    table = table.sort_values("plant", ignore_index=True)
    for name in table.columns:
        given = frame[name]
        there = given.notna()
        assert (table[name].notna() == there).all(), name
        assert (table[name].astype(object)[there].to_numpy() == given.astype(object)[there].to_numpy()).all(), name


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (f"UPDATE {LARGE} SET x = x + 0.01 WHERE fid = 3001", "1 feature changed"),
        (f"DELETE FROM {LARGE} WHERE fid = 5400", "1 feature removed"),
    ],
)
def test_an_edit_in_a_large_layer_is_found(folder, small_parts, tmp_path, change, words):
    place = tmp_path / "edited"
    copytree(folder, place)
    with closing(sqlite3.connect(place / "layout.gpkg")) as database, database:
        triggers = database.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall()
        for (name,) in triggers:
            database.execute(f'DROP TRIGGER "{name}"')
        database.execute(change)
    with pytest.raises(EditedError, match=f"'{LARGE}' was edited after the layout was written: {words}"):
        read_layout_file(place)
    with pytest.raises(EditedError, match=f"'{LARGE}' was edited after the layout was written: {words}"):
        read_layout_file(place, large_later=True).plant_table()


def test_a_large_layer_goes_to_geoparquet_in_row_groups(folder, small_parts, tmp_path):
    file = read_layout_file(folder)
    (path,) = write_layers({LARGE: file.parts(LARGE)}, "geoparquet", tmp_path / "parts")
    (whole,) = write_layers({LARGE: file.frame(LARGE)}, "geoparquet", tmp_path / "whole")
    assert pq.ParquetFile(path).num_row_groups == 8
    one, other = gpd.read_parquet(path), gpd.read_parquet(whole)
    assert one.crs == other.crs
    pd.testing.assert_frame_equal(one, other)


def test_a_large_layer_in_another_format_is_refused_with_the_way_out(folder, small_parts, tmp_path):
    file = read_layout_file(folder)
    with pytest.raises(OutputError, match="Take geoparquet"):
        write_layers({LARGE: file.parts(LARGE)}, "geojson", tmp_path / "out")


def test_more_plants_than_fit_are_refused_before_they_are_read(monkeypatch):
    monkeypatch.setattr(sizes, "free_bytes", lambda: 8e9)
    sizes.refuse_reading(3_000_000)
    with pytest.raises(MemoryShortError, match=r"holds 50\.0 million plants; .* and 8\.0 GB are free"):
        sizes.refuse_reading(50_000_000)
