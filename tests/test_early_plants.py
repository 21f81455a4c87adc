"""Plants of a large field are written by another process from the moment when they are placed: the same file."""

import sqlite3
from contextlib import closing
from dataclasses import replace
from datetime import date

import pyogrio
import pytest
from builders import plane, straight_beds, straight_rows
from plants_builders import crop

from geoagro import example_field, lay_out, read_crop_library
from geoagro.errors import OutputError
from geoagro.inputs.laid.layout_file import read_layout_file
from geoagro.outputs.geopackage.apart import WrittenApart
from geoagro.outputs.geopackage.layer import spoken
from geoagro.outputs.layout.early import EarlyPlants
from geoagro.outputs.layout.files import GEOPACKAGE, write_and_hold, write_layout
from geoagro.outputs.layout.layers import plant_layers
from geoagro.outputs.words.say import ENGLISH
from geoagro.plants.blocks import field as blocks_field
from geoagro.plants.blocks.field import place_field
from geoagro.values.progress import silent
from geoagro.values.recipe import Planting

CROPS = {"a": crop(), "t": crop()}
RECIPE = [Planting(crop="t", bed="tree", spacing_m=3.0), Planting(crop="a", bed="vegetable", lines=2, spacing_m=0.7)]


def stored():
    beds = straight_beds(straight_rows())
    return place_field(beds, plane(), CROPS, RECIPE, at_once=100, per_block=900, start=date(2027, 3, 1))


def plants_spoken(design, plants):
    return spoken(plant_layers(design, plants), ENGLISH)


@pytest.fixture
def in_blocks(monkeypatch):
    """Have fields of a hundred plants come in blocks."""
    place = blocks_field.place_field
    monkeypatch.setattr(
        "geoagro.pipeline.planting.place_field", lambda *a, **k: place(*a, **k, at_once=100, per_block=900)
    )


def laid_and_written(folder, *, early):
    design, site, source = example_field()
    with EarlyPlants(folder, design) as begun:
        laid = lay_out(design, site, source, read_crop_library(), placed=begun.placed if early else lambda _: None)
        if early:
            assert [path.suffix for path in (folder / ".geoagro").rglob("*.gpkg")] or begun._written is not None
        written = write_and_hold(
            laid, folder, design_file=None, more=[], light=None, words=ENGLISH, progress=silent, early=begun
        )
    assert not list((folder / ".geoagro").glob("begun*"))
    return written.files[0]


def test_a_file_begun_early_holds_what_one_written_at_last_holds(tmp_path, in_blocks):
    soon = laid_and_written(tmp_path / "soon", early=True)
    late = laid_and_written(tmp_path / "late", early=False)
    listed = [[str(name) for name in pyogrio.list_layers(path)[:, 0]] for path in (soon, late)]
    assert listed[0] == listed[1]
    contents = []
    for path in (soon, late):
        with closing(sqlite3.connect(path)) as database:
            contents.append(database.execute("SELECT * FROM gpkg_contents ORDER BY rowid").fetchall())
            assert database.execute("PRAGMA integrity_check").fetchone() == ("ok",)
            layers = [name for (name,) in database.execute("SELECT table_name FROM gpkg_geometry_columns")]
            for layer in layers:
                rows, indexed = (
                    database.execute(f"SELECT count(*) FROM {table}").fetchone()[0]
                    for table in (layer, f"rtree_{layer}_geom")
                )
                assert rows == indexed
    assert contents[0] == contents[1]
    one, other = read_layout_file(soon), read_layout_file(late)
    for name in one.layers:
        if name not in ("layer_styles", "layout_seal"):
            assert one.frame(name).equals(other.frame(name)), name  # held against their seals while they are read


def test_a_field_that_is_not_in_blocks_begins_nothing(tmp_path):
    design, site, source = example_field()
    with EarlyPlants(tmp_path, design) as begun:
        laid = lay_out(design, site, source, read_crop_library(), placed=begun.placed)
        assert begun.moved_to(tmp_path / "x.gpkg") == frozenset()
    assert not list(tmp_path.iterdir())
    assert write_layout(laid, tmp_path)[0].name == GEOPACKAGE


def test_what_was_begun_goes_where_the_layout_fails(tmp_path):
    design, *_ = example_field()
    with pytest.raises(RuntimeError, match="no"), EarlyPlants(tmp_path, design) as begun:
        begun.placed(stored())
        process = begun._written._process
        raise RuntimeError("no")
    assert process.poll() is not None
    assert not list((tmp_path / ".geoagro").glob("begun*"))


def test_another_process_that_cannot_write_says_why(tmp_path):
    design, *_ = example_field()
    plants = stored()
    layers = plants_spoken(design, plants)
    apart = WrittenApart(tmp_path / "missing" / "plants.gpkg", layers, plants.crs)
    with pytest.raises(OutputError, match=r"plants\.gpkg: the result can't be written .*unable to open"):
        apart.finish()
    apart.stop()


def test_another_process_that_is_killed_is_told(tmp_path):
    design, *_ = example_field()
    plants = stored()
    apart = WrittenApart(tmp_path / "plants.gpkg", plants_spoken(design, plants), plants.crs)
    apart._process.kill()
    with pytest.raises(OutputError, match=r"plants\.gpkg: the result can't be written"):
        apart.finish()
    apart.stop()


def test_rows_that_cannot_be_read_end_the_other_process(tmp_path):
    class Torn:
        def __len__(self):
            return 5

        def batches(self):
            raise OSError("torn")
            yield

    design, *_ = example_field()
    plants = stored()
    layer = plants_spoken(design, plants)[0]
    apart = WrittenApart(tmp_path / "plants.gpkg", [layer, replace(layer, frame=Torn())], plants.crs)
    with pytest.raises(OSError, match="torn"):
        apart.finish()
    apart.stop()
