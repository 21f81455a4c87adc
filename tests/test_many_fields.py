"""Many fields: each laid out as if alone, whatever happens to the others or to the machine."""

import hashlib
import importlib
import json
import os
import resource
import shutil
import threading
import time
from concurrent.futures import ThreadPoolExecutor

import duckdb
import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import rasterio
from click.testing import CliRunner
from filelock import FileLock
from many_builders import jobs, lay, result
from shapely import box

from geoagro.cli.main import group
from geoagro.cli.many import one_field, runners
from geoagro.cli.many.runners import in_processes, on_cluster
from geoagro.errors import DesignError, InputError, OutputError
from geoagro.inputs import files
from geoagro.inputs.design.file import read_design
from geoagro.inputs.design.own_file import FieldAsked, own_design
from geoagro.inputs.laid.store import read_store
from geoagro.outputs.portfolio.store import PART, write_store
from geoagro.outputs.staging import WORK

SHARED = """name: shared
inputs:
  boundary: {file: none.gpkg}
  elevation: {file: dem.tif, unit: m}
rows: {method: straight, bearing_deg: 90, spacing_m: 5}
output: {folder: elsewhere}
plantings:
  - {crop: apple, bed: tree, spacing_m: 3}
  - {crop: lettuce, bed: vegetable, lines: 2}
"""
SIDE = 24


def make_fields(folder, count, *, broken=()):
    """Squares on an even slope, in a layer with settings; those in `broken` lie beyond the raster."""
    across = (SIDE + 6) * count + 20
    y, x = np.mgrid[0:60, 0:across]
    place = rasterio.Affine(1, 0, 500_000, 0, -1, 5_000_060)
    with rasterio.open(
        folder / "dem.tif", "w", driver="GTiff", height=60, width=across, count=1, dtype="float32", crs="EPSG:32633",
        transform=place,
    ) as file:  # fmt: skip
        file.write((500 + 0.06 * y + 0.01 * x).astype("float32"), 1)
    west = [500_010 + (SIDE + 6) * k + (90_000 if k in broken else 0) for k in range(count)]
    shapes = [box(w, 5_000_015, w + SIDE, 5_000_015 + SIDE) for w in west]
    names = [f"north {k}" for k in range(count)]
    spacing = [6.0 if k == 1 else None for k in range(count)]
    table = gpd.GeoDataFrame(
        {"name": names, "rows.spacing_m": spacing, "owner": "x"}, geometry=shapes, crs="EPSG:32633"
    )
    table.to_file(folder / "fields.gpkg", layer="fields")
    (folder / "shared.yaml").write_text(SHARED, encoding="utf-8")
    return folder


def run(*arguments):
    return CliRunner().invoke(group, ["batch", *map(str, arguments)], standalone_mode=False)


def in_this_process(jobs, root, *, workers, lay):
    """Stand in for the runner, whose processes load all libraries anew; a missing file is told through a real one below."""
    return ((job, lay(job, root)) for job in jobs)


@pytest.fixture(scope="module")
def laid(tmp_path_factory):
    """Three fields of a layer, laid out; the last lies where there is no ground."""
    folder = make_fields(tmp_path_factory.mktemp("many"), 3, broken=(2,))
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(runners, "in_processes", in_this_process)
        said = run(folder / "fields.gpkg", "--design", folder / "shared.yaml", "-o", folder / "out", "--workers", 1)
    return folder, said


def test_each_field_has_its_own_design_that_other_commands_read(laid):
    folder, _ = laid
    designs = [read_design(folder / "out" / "fields" / f"north {k}" / "design.yaml") for k in range(3)]
    assert [design.name for design in designs] == ["north 0", "north 1", "north 2"]
    assert [design.rows.spacing_m for design in designs] == [5.0, 6.0, 5.0]
    assert (designs[0].folder / designs[0].inputs.elevation.file).resolve() == (folder / "dem.tif").resolve()
    assert designs[0].output.folder.as_posix() == "result"


def test_one_broken_field_doesn_t_stop_the_others_and_says_why(laid):
    folder, said = laid
    table = pd.read_csv(folder / "out" / "fields.csv").set_index("field")
    assert table["status"].to_dict() == {"north 0": "done", "north 1": "done", "north 2": "failed"}
    assert "inputs.elevation" in table.loc["north 2", "problem"]
    assert "2 of 3 fields laid out" in said.output
    assert (folder / "out" / "fields" / "north 0" / "result" / "layout.gpkg").is_file()


def test_fields_lie_in_the_portfolio_with_their_figures(laid):
    folder, _ = laid
    fields = gpd.read_file(folder / "out" / "portfolio.gpkg", layer="field_results")
    assert fields["field"].tolist() == ["north 0", "north 1"]
    assert fields["field_m2"].tolist() == pytest.approx([SIDE**2] * 2)
    source = gpd.read_file(folder / "fields.gpkg").to_crs(4326)
    assert fields.geometry[0].symmetric_difference(source.geometry[0]).area < 1e-12


def test_a_further_run_lays_out_only_what_changed(laid, tmp_path, monkeypatch):
    folder = tmp_path / "again"
    shutil.copytree(laid[0], folder, copy_function=shutil.copy2)
    begun = []
    real = one_field._laid
    monkeypatch.setattr(
        one_field, "_laid", lambda job, *rest, **more: begun.append(job.parent.name) or real(job, *rest, **more)
    )
    paths = [folder / "out" / "fields" / f"north {k}" / "design.yaml" for k in range(2)]
    paths[1].write_text(paths[1].read_text(encoding="utf-8").replace("spacing_m: 6", "spacing_m: 7"), encoding="utf-8")
    results = [one_field.lay_one(path, folder / "out") for path in paths]
    assert begun == ["north 1"]
    assert [r.status for r in results] == ["done", "done"]
    assert results[1].figures["rows"] < 5


def test_a_field_that_is_handed_out_again_while_a_lost_worker_still_writes_waits_and_takes_its_result(
    laid, tmp_path, monkeypatch
):
    folder = tmp_path / "twice"
    shutil.copytree(laid[0], folder, copy_function=shutil.copy2)
    path = folder / "out" / "fields" / "north 0" / "design.yaml"
    result = path.parent / "result"
    kept = (result / one_field.RESULT).rename(tmp_path / "kept")
    monkeypatch.setattr(one_field, "_laid", lambda *_, **__: pytest.fail("laid out a second time"))
    (result / WORK).mkdir(exist_ok=True)
    with ThreadPoolExecutor(1) as second, FileLock(result / WORK / "lock"):
        waiting = second.submit(one_field.lay_one, path, folder / "out")
        time.sleep(0.5)
        assert not waiting.done()
        kept.rename(result / one_field.RESULT)
    assert waiting.result().status == "done"


def test_under_a_limit_for_files_what_was_laid_out_before_stays(laid, tmp_path, monkeypatch):
    monkeypatch.setattr(runners, "in_processes", in_this_process)
    folder = tmp_path / "small"
    shutil.copytree(laid[0], folder, copy_function=shutil.copy2)
    shared = folder / "shared.yaml"
    shared.write_text(shared.read_text(encoding="utf-8").replace("lines: 2", "lines: 3"), encoding="utf-8")
    before = {path: path.read_bytes() for path in sorted((folder / "out").rglob("*")) if path.is_file()}
    limits = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (200, limits[1]))
    try:
        said = run(folder / "fields.gpkg", "--design", shared, "-o", folder / "out", "--workers", 1)
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, limits)
    assert isinstance(said.exception, OutputError)
    assert "untouched. Make room" in str(said.exception)
    assert {path: path.read_bytes() for path in before} == before


def test_portfolio_adds_up_what_was_laid_out(laid, tmp_path):
    folder, _ = laid
    said = CliRunner().invoke(
        group, ["portfolio", str(folder / "out"), "--output", str(tmp_path)], standalone_mode=False
    )
    assert said.exception is None
    assert "1 of 3 fields couldn't be laid out" in said.output
    fields = pd.read_csv(tmp_path / "portfolio_fields.csv")
    one_by_one = pd.read_csv(folder / "out" / "fields.csv")
    assert fields["planted_m2"].sum() == pytest.approx(one_by_one["planted_m2"].sum())
    crops = pd.read_csv(tmp_path / "portfolio_crops.csv").set_index("crop")
    assert crops.loc["apple", "plants"] == one_by_one["trees"].sum()
    shapes = json.loads((tmp_path / "portfolio_parts.geojson").read_text(encoding="utf-8"))["features"]
    assert [shape["properties"]["field"] for shape in shapes] == ["north 0", "north 1"]


def test_a_setting_that_doesn_t_fit_is_told_with_its_field(tmp_path):
    (tmp_path / "shared.yaml").write_text(SHARED, encoding="utf-8")
    field = FieldAsked("south", box(0, 0, 1, 1), {"rows.spacing_m": "-3"})
    with pytest.raises(DesignError, match=r"field 'south': .*rows\.spacing_m: must be above 0"):
        own_design(tmp_path / "shared.yaml", field, tmp_path / "fields" / "south")


def test_two_fields_of_one_name_are_refused(tmp_path):
    make_fields(tmp_path, 2)
    table = gpd.read_file(tmp_path / "fields.gpkg").assign(name="same")
    table.to_file(tmp_path / "twice.gpkg", layer="fields")
    said = run(tmp_path / "twice.gpkg", "--design", tmp_path / "shared.yaml", "-o", tmp_path / "out")
    assert isinstance(said.exception, InputError)
    assert "two fields are called 'same'" in str(said.exception)


def test_a_missing_file_is_told_in_the_reader_s_words(tmp_path):
    make_fields(tmp_path, 1)
    (tmp_path / "shared.yaml").write_text(SHARED.replace("dem.tif", "gone.tif"), encoding="utf-8")
    said = run(tmp_path / "fields.gpkg", "--design", tmp_path / "shared.yaml", "-o", tmp_path / "out", "--workers", 1)
    assert "inputs.elevation.file" in said.output
    assert "isn't there" in said.output


def test_a_raster_that_fields_share_is_read_for_its_checksum_once_until_it_changes(tmp_path, monkeypatch):
    monkeypatch.setattr(files, "_LARGE_BYTES", 4)
    read = []
    real = files._read_sha256
    monkeypatch.setattr(files, "_read_sha256", lambda path: read.append(path) or real(path))
    raster = tmp_path / "dem.tif"
    raster.write_bytes(b"heights")
    assert files.sha256_of(raster) == files.sha256_of(raster) == hashlib.sha256(b"heights").hexdigest()
    assert len(read) == 1
    raster.write_bytes(b"others!")
    os.utime(raster, ns=(1, 1))
    assert files.sha256_of(raster) == hashlib.sha256(b"others!").hexdigest()


# --- runners ------------------------------------------------------------------------------------------------------


def test_a_field_that_kills_its_process_is_left_out_and_the_others_are_done(tmp_path):
    names = ["a", "kills", "b", "once", "c", "d"]
    found = dict(in_processes(jobs(tmp_path, names), tmp_path, workers=2, lay=lay))
    assert {job.parent.name: r.status for job, r in found.items()} == {
        "a": "done", "b": "done", "c": "done", "d": "done", "once": "done", "kills": "died",
    }  # fmt: skip


@pytest.fixture(scope="module")
def cluster():
    distributed = pytest.importorskip("distributed")
    few = {"distributed.scheduler.allowed-failures": 0}  # whatever is at a worker that is killed is given up at once
    with (
        importlib.import_module("dask").config.set(few),
        distributed.LocalCluster(
            n_workers=2, threads_per_worker=1, processes=True, dashboard_address="127.0.0.1:0", host="127.0.0.1"
        ) as local,
    ):
        yield local


def test_a_cluster_finishes_every_field_though_a_worker_is_killed(cluster, tmp_path):
    names = [f"slow {k}" for k in range(12)]
    found = {}
    for job, one in on_cluster(jobs(tmp_path, names), tmp_path, scheduler=cluster.scheduler_address, lay=lay):
        found[job.parent.name] = one.status
        if len(found) == 3:
            next(iter(cluster.workers.values())).process.process.kill()
    assert found == dict.fromkeys(names, "done")


def test_a_cluster_leaves_out_the_field_that_kills_its_workers(cluster, tmp_path):
    names = ["kills", *"abcdefgh"]
    found = dict(on_cluster(jobs(tmp_path, names), tmp_path, scheduler=cluster.scheduler_address, lay=lay))
    assert {job.parent.name: r.status for job, r in found.items()} == dict.fromkeys("abcdefgh", "done") | {
        "kills": "died"
    }


def test_a_scheduler_that_is_started_again_finishes_what_is_left(tmp_path, monkeypatch):
    distributed = pytest.importorskip("distributed")
    monkeypatch.setattr(runners, "_WAIT_S", 1.0)

    def start(port):
        return distributed.LocalCluster(
            n_workers=1, threads_per_worker=1, processes=True, dashboard_address="127.0.0.1:0", host="127.0.0.1",
            scheduler_port=port,
        )  # fmt: skip

    first = start(0)
    address, second = first.scheduler_address, None
    names = [f"slow {k}" for k in range(8)]
    found = {}
    try:
        for job, one in on_cluster(jobs(tmp_path, names), tmp_path, scheduler=address, lay=lay):
            found[job.parent.name] = one.status
            if len(found) == 2:
                first.close()
                second = start(int(address.rsplit(":", 1)[1]))
    finally:
        for each in (first, second):
            if each is not None:
                each.close()
    assert found == dict.fromkeys(names, "done")


def test_a_scheduler_without_workers_is_told_once_and_waited_for(tmp_path, monkeypatch):
    distributed = pytest.importorskip("distributed")
    monkeypatch.setattr(runners, "_LOOK_S", 0.2)
    with distributed.LocalCluster(
        n_workers=0, threads_per_worker=1, processes=True, dashboard_address="127.0.0.1:0", host="127.0.0.1"
    ) as empty:
        told = []

        def tell():
            told.append(len(told))
            empty.scale(1)

        names = ["a", "b"]
        asked = {"scheduler": empty.scheduler_address, "lay": lay, "tell_alone": tell}
        found = {job.parent.name: one.status for job, one in on_cluster(jobs(tmp_path, names), tmp_path, **asked)}
    assert found == dict.fromkeys(names, "done")
    assert told == [0]


def test_a_client_that_knows_of_nothing_is_not_told_as_one_without_workers(monkeypatch):
    monkeypatch.setattr(runners, "_LOOK_S", 0.001)
    answers = [{"workers": {"a": {}}}, {}, {"workers": {}}, {}, {"workers": {}}]
    told, seen = [], threading.Event()

    class Closing:
        def scheduler_info(self):
            if answers:
                return answers.pop(0)
            seen.set()
            return {}

    with runners._looking_for_workers(Closing(), lambda: told.append(len(answers))):
        assert seen.wait(10)
    assert told == [2]  # once, at the first look that found none
    assert not [one for one in threading.enumerate() if one.name == "geoagro batch looks for workers"]


def test_no_scheduler_is_told(tmp_path, monkeypatch):
    pytest.importorskip("distributed")
    monkeypatch.setattr(runners, "_WAIT_S", 0.5)
    with pytest.raises(InputError, match="no Dask scheduler answers there"):
        list(on_cluster(jobs(tmp_path, ["a"]), tmp_path, scheduler="tcp://127.0.0.1:9", lay=lay))


# --- the store ----------------------------------------------------------------------------------------------------


def test_a_store_of_many_parts_adds_up_to_what_went_in(tmp_path):
    results = [result(f"f{k:05d}", status="failed" if k % 50 == 0 else "done") for k in range(PART + 7)]
    write_store(results, tmp_path)
    assert len(list((tmp_path / "portfolio" / "fields").glob("*.parquet"))) == 2
    store = read_store(tmp_path / "portfolio")
    done = sum(r.status == "done" for r in results)
    assert len(store.fields) == len(results)
    assert store.crops.to_dict("records") == [
        {
            "crop": "apple",
            "name": "apple",
            "habit": "tree",
            "fields": done,
            "plants": 3 * done,
            "share_area_m2": 2.5 * done,
        }
    ]
    parts = str(tmp_path / "portfolio" / "fields" / "*.parquet")
    with duckdb.connect() as engine:
        assert engine.execute("SELECT sum(trees) FROM read_parquet(?)", [parts]).fetchone() == (done,)
    assert len(gpd.read_parquet(tmp_path / "portfolio" / "fields" / "part-00001.parquet")) == PART


def test_fewer_fields_leave_no_old_part(tmp_path):
    write_store([result(f"f{k:05d}") for k in range(PART + 1)], tmp_path)
    write_store([result("only")], tmp_path)
    assert read_store(tmp_path / "portfolio").fields["field"].tolist() == ["only"]


def test_the_same_results_give_the_same_bytes(tmp_path):
    results = [result(f"f{k}") for k in range(5)]
    first, second = ([path.read_bytes() for path in write_store(results, tmp_path / name)] for name in "ab")
    assert first == second
