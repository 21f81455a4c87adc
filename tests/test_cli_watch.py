"""Watching a design: laid out again after a save, with the last good result kept."""

import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pyogrio
import pytest
import yaml
from input_files import EAST, FIELD, NORTH, slope_north, write_raster, write_vector
from shapely import LineString

LONG_S = 120


@pytest.fixture
def farm(tmp_path):
    write_vector(tmp_path / "field.gpkg", [FIELD])
    write_raster(tmp_path / "dem.tif", slope_north())
    write_vector(tmp_path / "rows.gpkg", [line(20), line(40)], layer="rows")
    design = {
        "name": "invented",
        "inputs": {
            "boundary": {"file": "field.gpkg"},
            "elevation": {"file": "dem.tif"},
            "rows": {"file": "rows.gpkg", "layer": "rows"},
        },
        "rows": {"method": "drawn"},
        "output": {"folder": "result"},
    }
    (tmp_path / "design.yaml").write_text(yaml.safe_dump(design))
    return tmp_path


def line(y):
    return LineString([(EAST + 2, NORTH + y), (EAST + 98, NORTH + y)])


ENDED_BY_HAND = (
    "import signal; signal.signal(signal.SIGINT, signal.default_int_handler); from geoagro.cli.main import main; main()"
)
"""A suite that runs in the background ignores Ctrl+C, and its children would too."""


def until(what):
    end = time.monotonic() + LONG_S
    while time.monotonic() < end:
        if what():
            return
        time.sleep(0.1)
    raise AssertionError("waited in vain")


def rows_in(farm):
    path = farm / "result" / "layout.gpkg"
    return len(pyogrio.read_dataframe(path, layer="tree_rows")) if path.exists() else 0


@pytest.mark.skipif(os.name != "posix", reason="ends the process with a signal")
def test_a_save_renews_picture_and_layout_and_a_broken_file_keeps_the_last_good_ones(farm):
    said = (farm / "said.txt").open("w")
    command = [sys.executable, "-u", "-c", ENDED_BY_HAND, "watch", str(farm / "design.yaml")]
    env = os.environ | {"PYTHONPATH": str(Path(__file__).parents[1])}
    process = subprocess.Popen(command, stdout=said, stderr=said, env=env)
    try:
        until(lambda: rows_in(farm) == 2)
        picture = (farm / "result" / "rows.png").stat().st_mtime_ns
        write_vector(farm / "rows.gpkg", [line(20), line(40), line(60)], layer="rows")
        until(lambda: rows_in(farm) == 3)
        assert (farm / "result" / "rows.png").stat().st_mtime_ns > picture
        good = (farm / "design.yaml").read_text()
        (farm / "design.yaml").write_text(good + "rowz: 1\n")
        until(lambda: "The last good result stays" in (farm / "said.txt").read_text())
        assert rows_in(farm) == 3
        (farm / "design.yaml").write_text(good.replace("method: drawn", "method: drawn\n  spacing_m: 5"))
        until(lambda: (farm / "said.txt").read_text().count("layout.gpkg") >= 3)
        held = farm / "result" / "layout.gpkg-wal"
        held.write_bytes(b"held")
        picture = (farm / "result" / "layout.png").stat().st_mtime_ns
        write_vector(farm / "rows.gpkg", [line(20), line(40)], layer="rows")
        until(lambda: "save again to renew the rest" in (farm / "said.txt").read_text())
        assert (farm / "result" / "layout.png").stat().st_mtime_ns > picture
        assert rows_in(farm) == 3
    finally:
        process.send_signal(signal.SIGINT)
        process.wait(timeout=30)
        said.close()
    text = (farm / "said.txt").read_text()
    assert "rowz: unknown key" in text
    assert "rows.gpkg saved" in text
    assert "Traceback" not in text


@pytest.mark.skipif(os.name != "posix", reason="ends the process with a signal")
def test_programs_get_a_line_of_json_for_every_event(farm):
    good = (farm / "design.yaml").read_text()
    (farm / "design.yaml").write_text(good + "rowz: 1\n")
    command = [sys.executable, "-u", "-c", ENDED_BY_HAND, "watch", str(farm / "design.yaml"), "--rows-only", "--json"]
    env = os.environ | {"PYTHONPATH": str(Path(__file__).parents[1])}
    with (farm / "said.txt").open("w") as said:
        process = subprocess.Popen(command, stdout=said, stderr=subprocess.DEVNULL, env=env)
        try:
            until(lambda: '"failed"' in (farm / "said.txt").read_text())
            (farm / "design.yaml").write_text(good)
            until(lambda: '"written"' in (farm / "said.txt").read_text())
        finally:
            process.send_signal(signal.SIGINT)
            process.wait(timeout=30)
    lines = [json.loads(line) for line in (farm / "said.txt").read_text().splitlines()]
    assert [line["event"] for line in lines] == ["watching", "failed", "saved", "written", "ended"]
    for line in lines:
        assert list(line) == ["command", "event", "files", "figures", "findings", "words"]
        assert line["command"] == "watch"
    assert lines[1]["findings"][0]["severity"] == "failure" and "rowz" in lines[1]["findings"][0]["text"]
    assert lines[3]["files"] == [str(farm / "result" / "rows.png")]
    assert {"rows", "row_length", "seconds"} <= {figure["key"] for figure in lines[3]["figures"]}
