"""Another process writes plants from the moment when they are placed, and draws: the same files."""

import sqlite3
from contextlib import closing
from dataclasses import replace
from datetime import date
from pathlib import Path
from threading import Event

import pyogrio
import pytest
from builders import plane, straight_beds, straight_rows
from plants_builders import crop

from geoagro import example_field, example_layout, lay_out, pipeline, read_crop_library, write_example
from geoagro.cli.layout import lay_out_and_write
from geoagro.errors import OutputError
from geoagro.ground.leftover import leftover_ground
from geoagro.inputs.laid.layout_file import read_layout_file
from geoagro.outputs.apart import Apart
from geoagro.outputs.geopackage.apart import begin_layers
from geoagro.outputs.geopackage.layer import spoken
from geoagro.outputs.layout.early import Early
from geoagro.outputs.layout.files import GEOPACKAGE, write_and_hold, write_layout
from geoagro.outputs.layout.layers import plant_layers, plants_layer
from geoagro.outputs.words.say import ENGLISH
from geoagro.pipeline import whole_layout
from geoagro.plants.blocks import field as blocks_field
from geoagro.plants.blocks.field import has_room_beside, place_field, untold, workers_beside
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
    with Early(folder, design) as begun:
        hooks = {"placing": begun.placing} if early == "placing" else {}
        hooks |= {"placed": begun.placed} if early else {}
        laid = lay_out(design, site, source, read_crop_library(), **hooks)
        if early:
            assert [path.suffix for path in (folder / ".geoagro").rglob("*.gpkg")] or begun.apart is not None
        written = write_and_hold(
            laid, folder, design_file=None, more=[], light=None, words=ENGLISH, progress=silent, early=begun
        )
    assert not list((folder / ".geoagro").glob("begun*"))
    return written.files[0]


@pytest.mark.parametrize("early", ["placing", "placed"])
def test_a_file_begun_early_holds_what_one_written_at_last_holds(tmp_path, in_blocks, early):
    soon = laid_and_written(tmp_path / "soon", early=early)
    late = laid_and_written(tmp_path / "late", early="")
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
    with Early(tmp_path, design) as begun:
        laid = lay_out(design, site, source, read_crop_library(), placed=begun.placed)
        assert begun.move_plants(tmp_path / "x.gpkg") == frozenset()
    assert not list(tmp_path.iterdir())
    assert write_layout(laid, tmp_path)[0].name == GEOPACKAGE


def test_what_was_begun_goes_where_the_layout_fails(tmp_path):
    design, *_ = example_field()
    with pytest.raises(RuntimeError, match="no"), Early(tmp_path, design) as begun:
        begun.placed(stored())
        process = begun.apart.process
        raise RuntimeError("no")
    assert process.poll() is not None
    assert not list((tmp_path / ".geoagro").glob("begun*"))


def test_plants_are_written_while_others_are_placed_and_a_crop_of_which_there_are_none_is_left_out(tmp_path):
    design, *_ = example_field()
    beds, placed = straight_beds(straight_rows()), []
    with Early(tmp_path, design) as begun:

        def placing(coming):
            placed.append((coming.crops, len(coming.file)))
            begun.placing(replace(coming, crops=("none", *coming.crops)))

        plants = place_field(
            beds, plane(), CROPS, RECIPE, at_once=100, per_block=900, start=date(2027, 3, 1), placing=placing
        )
        begun.placed(plants)
        named = {plants_layer(code) for code in plants.by_crop()}
        assert begun.move_plants(tmp_path / "plants.gpkg") == named
    assert placed == [(("a", "t"), 0)]  # before the first is placed, the crop with most plants first
    assert len(plants.by_crop()["a"]) > len(plants.by_crop()["t"])
    for code, mine in plants.by_crop().items():
        written = pyogrio.read_dataframe(tmp_path / "plants.gpkg", layer=plants_layer(code))
        assert written["plant"].tolist() == [k for batch in mine.batches() for k in batch["plant"].to_pylist()]
    assert {str(name) for name in pyogrio.list_layers(tmp_path / "plants.gpkg")[:, 0]} == named


@pytest.mark.parametrize(
    ("processors", "alone", "written", "room"),
    [(1, 2, 1, False), (2, 2, 1, False), (3, 2, 2, False), (4, 2, 2, True), (64, 2, 2, True), (None, 2, 1, False)],
)
def test_a_process_that_writes_what_is_placed_has_a_processor_for_itself(monkeypatch, processors, alone, written, room):
    monkeypatch.setattr(blocks_field.os, "cpu_count", lambda: processors)
    assert workers_beside(untold) == alone
    assert has_room_beside(untold)
    assert workers_beside(lambda _: None) == written
    assert has_room_beside(lambda _: None) is room


@pytest.mark.parametrize(("processors", "first"), [(2, "plants"), (8, "bare ground")])
def test_bare_ground_waits_where_plants_are_written_and_no_processor_is_left(monkeypatch, in_blocks, processors, first):
    done, begun, place = [], Event(), whole_layout.plants_of

    def bare(*args, **more):
        done.append("bare ground")
        begun.set()
        return leftover_ground(*args, **more)

    def plants(*args, **more):
        if first == "bare ground":
            assert begun.wait(60)
        found = place(*args, **more)
        done.append("plants")
        return found

    monkeypatch.setattr(blocks_field.os, "cpu_count", lambda: processors)
    monkeypatch.setattr(whole_layout, "AT_ONCE", 100)
    monkeypatch.setattr(whole_layout, "leftover_ground", bare)
    monkeypatch.setattr(whole_layout, "plants_of", plants)
    laid = lay_out(*example_field(), read_crop_library(), placing=lambda _: None)
    assert done[0] == first
    assert len(done) == 2
    assert laid.unplanted.geometry.to_wkb().tolist() == example_layout().unplanted.geometry.to_wkb().tolist()
    assert laid.plants.frame["plant"].tolist() == example_layout().plants.frame["plant"].tolist()


def test_what_was_begun_goes_where_placing_fails(tmp_path, monkeypatch):
    design, *_ = example_field()
    monkeypatch.setattr(blocks_field, "plant_table", fails_at_the_third(blocks_field.plant_table))
    beds = straight_beds(straight_rows())
    with pytest.raises(RuntimeError, match="no"), Early(tmp_path, design) as begun:
        place_field(beds, plane(), CROPS, RECIPE, at_once=100, per_block=300, placing=begun.placing)
    assert begun.apart.process.poll() is not None
    assert not list((tmp_path / ".geoagro").glob("begun*"))


def fails_at_the_third(table_of):
    calls = []

    def failing(*args):
        calls.append(args)
        if len(calls) == 3:
            raise RuntimeError("no")
        return table_of(*args)

    return failing


@pytest.fixture
def apart():
    """Give a process to hand work to."""
    started = Apart()
    yield started
    started.stop()


def test_another_process_that_cannot_write_says_why(tmp_path, apart):
    design, *_ = example_field()
    plants, path = stored(), tmp_path / "missing" / "plants.gpkg"
    task = begin_layers(path, plants_spoken(design, plants), plants.crs, apart)
    with pytest.raises(OutputError, match=r"plants\.gpkg: the result can't be written .*unable to open"):
        apart.wait(task, path)


def test_another_process_that_is_killed_is_told(tmp_path, apart):
    design, *_ = example_field()
    plants, path = stored(), tmp_path / "plants.gpkg"
    task = begin_layers(path, plants_spoken(design, plants), plants.crs, apart)
    apart.process.kill()
    with pytest.raises(OutputError, match=r"plants\.gpkg: the result can't be written"):
        apart.wait(task, path)


def test_rows_that_cannot_be_read_end_the_other_process(tmp_path, apart):
    class Torn:
        def __len__(self):
            return 5

        def batches(self):
            raise OSError("torn")
            yield

    design, *_ = example_field()
    plants, path = stored(), tmp_path / "plants.gpkg"
    layer = plants_spoken(design, plants)[0]
    task = begin_layers(path, [layer, replace(layer, frame=Torn())], plants.crs, apart)
    with pytest.raises(OSError, match="torn"):
        apart.wait(task, path)


def test_a_field_that_is_laid_out_alone_has_plants_written_and_pictures_drawn_apart(tmp_path):
    design, text = write_example(tmp_path), "layout.gpkg"
    alone = lay_out_and_write(design, tmp_path / "alone", silent, alone=True)
    beside = lay_out_and_write(design, tmp_path / "beside", silent)
    assert [path.name for path in alone.written] == [path.name for path in beside.written]
    for path, other in zip(alone.written, beside.written, strict=True):
        if path.name != text:
            assert path.read_bytes() == other.read_bytes()
    one, other = (read_layout_file(done.written[0]) for done in (alone, beside))
    assert one.layers == other.layers
    for name in one.layers:
        if name not in ("layer_styles", "layout_seal"):
            assert one.frame(name).equals(other.frame(name)), name
    assert [path.name for path in (tmp_path / "alone" / ".geoagro").iterdir()] == ["lock"]


def test_a_field_laid_out_alone_twice_gives_the_same_bytes(tmp_path):
    design = write_example(tmp_path)
    one, other = (lay_out_and_write(design, tmp_path / name, silent, alone=True).written for name in ("a", "b"))
    assert [path.read_bytes() for path in one] == [path.read_bytes() for path in other]


def test_a_picture_that_cannot_be_drawn_is_told_and_leaves_the_earlier_result(tmp_path, monkeypatch):
    design = write_example(tmp_path)
    written = lay_out_and_write(design, tmp_path / "out", silent, alone=True).written
    before = [path.read_bytes() for path in written]
    monkeypatch.setattr("geoagro.outputs.layout.shown.Shown.of", lambda _: None)
    with pytest.raises(OutputError, match=r"layout\.png: the result can't be written"):
        lay_out_and_write(design, tmp_path / "out", silent, alone=True)
    assert [path.read_bytes() for path in written] == before


def test_a_program_that_cannot_start_another_does_all_itself(tmp_path, monkeypatch):
    design = write_example(tmp_path)
    monkeypatch.setattr("sys.executable", "")
    assert all(path.exists() for path in lay_out_and_write(design, tmp_path / "out", silent, alone=True).written)


def changed(path, layer):
    with closing(sqlite3.connect(path)) as database, database:
        database.execute(f"DELETE FROM {layer} WHERE fid = 1")


def test_an_edited_layout_is_found_while_the_new_one_is_laid_out_and_kept(tmp_path, capsys):
    design, out = write_example(tmp_path), tmp_path / "out"
    path = lay_out_and_write(design, out, silent, alone=True).written[0]
    changed(path, "area_summary")
    edited = path.read_bytes()
    lay_out_and_write(design, out, silent, alone=True)
    assert (out / "layout_edited_1.gpkg").read_bytes() == edited
    assert "area_summary" in capsys.readouterr().err
    lay_out_and_write(design, out, silent, alone=True)
    assert not (out / "layout_edited_2.gpkg").exists()


def test_what_is_edited_while_the_new_layout_is_laid_out_is_kept(tmp_path, monkeypatch):
    design, out = write_example(tmp_path), tmp_path / "out"
    path = lay_out_and_write(design, out, silent, alone=True).written[0]
    laid_out = pipeline.layout

    def layout(*args, **kwargs):
        laid = laid_out(*args, **kwargs)
        changed(path, "row_summary")
        return laid

    monkeypatch.setattr(pipeline, "layout", layout)
    lay_out_and_write(design, out, silent, alone=True)
    assert (out / "layout_edited_1.gpkg").exists()


def test_a_task_that_fails_is_told_and_the_next_one_is_done(tmp_path, apart):
    number, next_one = apart.hand(Path.read_text, tmp_path / "missing.txt"), apart.hand(len, "abc")
    with pytest.raises(OutputError, match=r"missing\.txt.*No such file"):
        apart.wait(number, tmp_path / "missing.txt")
    assert apart.wait(next_one, tmp_path) == 3


def test_beds_are_told_before_plants_are_placed():
    told = []
    design, site, source = example_field()
    laid = lay_out(
        design, site, source, read_crop_library(),
        fitted=lambda where, beds: told.append((where.name, len(beds.beds))), placed=lambda plants: told.append(plants.count),
    )  # fmt: skip
    assert told == [(site.name, len(laid.beds.beds)), laid.plants.count]


def test_yields_of_a_field_laid_out_alone_are_reckoned_by_the_other_process(tmp_path, monkeypatch):
    design = write_example(tmp_path)
    beside = lay_out_and_write(design, tmp_path / "beside", silent).company[0]
    monkeypatch.setattr(pipeline, "recipe_yields_of", None)
    alone = lay_out_and_write(design, tmp_path / "alone", silent, alone=True).company[0]
    assert alone.land.equals(beside.land)
    assert len(alone.land) > 0


def test_what_the_other_process_cannot_do_is_done_here(tmp_path):
    design, *_ = example_field()
    with Early(tmp_path, design, pictures=True) as early:
        found, failed = early.meanwhile(len, "abc"), early.meanwhile(int, "ten")
        early.apart.process.kill()
        assert found() == 3
        with pytest.raises(ValueError, match="ten"):
            failed()
    with Early(tmp_path, design) as early:
        assert early.meanwhile(sorted, [2, 1], reverse=True)() == [2, 1]
