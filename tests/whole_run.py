"""Run by test_whole_runs.py in a process of its own: every command that writes, on a small invented field.

usage: whole_run.py FOLDER [--kill] [--json]

The folder is made anew, with the field in it. With --kill each set of results is also moved into place by children that are
killed before each of their calls to the system; what then lay there, and after the next run began, is printed as JSON. With --json every command speaks
JSON, and what each said is printed.
"""

import io
import json
import os
import shutil
import subprocess
import sys
import warnings
from pathlib import Path

import numpy as np
import pyogrio
from input_files import EAST, NORTH, write_raster, write_vector
from shapely import box

from geoagro.cli.main import group
from geoagro.outputs import moving, staging

DESIGN = """\
name: Gr\u00fcner Hang
inputs:
  boundary: {file: field.gpkg}
  elevation: {file: dem.tif, unit: m}
rows: {method: straight, bearing_deg: 90, spacing_m: 6}
plantings:
  - {crop: apple, bed: tree, spacing_m: 4}
  - {crop: bean, bed: vegetable, lines: 2}
start_date: 2026-03-01
season: {years: 2, currency: EUR, wage_per_hour: 10, simulation: {runs: 100}}
water: {rows: store, rain_mm: 60, curve_number: 80}
output: {folder: result}
"""
COMMANDS = [
    ("check", "design.yaml"),
    ("beds", "design.yaml"),
    ("rows", "design.yaml", "-o", "rows"),
    ("layout", "design.yaml"),
    ("water", "design.yaml"),
    ("stakes", "design.yaml"),
    ("sample-plots", "design.yaml", "--radius", "1.2", "--precision-pct", "30"),
    ("survey", "design.yaml", "result/stakes/stakes_northing_first.csv", "--what", "stakes", "--date", "2026-04-01"),
    ("season", "design.yaml"),
    ("report", "design.yaml"),
    ("map", "design.yaml"),
    ("export", "design.yaml", "--format", "shapefile", "--all"),
    ("export", "design.yaml", "--format", "geojson", "--all"),
    ("portfolio", "design.yaml", "--output", "portfolio"),
    ("compare", "design.yaml", "--vary", "rows.spacing_m=6,7"),
    ("layout", "design.yaml"),
]


def make(folder: Path) -> None:
    folder.mkdir(parents=True)
    pyogrio.set_gdal_config_options(
        {"OGR_CURRENT_DATE": "2026-01-01T00:00:00Z"}
    )  # the field itself is to be the same bytes
    write_vector(folder / "field.gpkg", [box(EAST, NORTH, EAST + 26, NORTH + 20)])
    x, y = np.meshgrid(np.arange(120), np.arange(110)[::-1])
    write_raster(folder / "dem.tif", 200 + 0.08 * y + 0.2 * np.sin(x / 9), west=EAST - 45, north=NORTH + 65, cell=1.0)
    (folder / "design.yaml").write_text(DESIGN, encoding="utf-8")


class Killer:
    """In the place of `staging.move_all`: kills children before each call that the moves make, then moves for good."""

    def __init__(self, room: Path) -> None:
        self.room, self.command = room, ""
        self.seen: list[tuple[str, int, str, str]] = []
        self.mover = subprocess.Popen(
            [sys.executable, str(Path(__file__).parent / "move_and_die.py")],
            stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True,
        )  # fmt: skip
        self.move_all = moving.move_all

    def __call__(self, work: Path, folder: Path, names: list[str], gone: list[str] = ()) -> None:
        for at in range(1, 500):
            copy = self.room / f"{len(self.seen)}"
            shutil.copytree(
                work, copy / staging.WORK, copy_function=os.link, ignore=lambda _folder, _names: ["lock"]
            )  # links do: results are moved, never written into
            for name in (*names, *gone):
                (copy / name).write_text("old", encoding="utf-8")
            killed = self._killed(copy, names, gone, at)
            if killed:
                after = state(copy, work / moving.NEW, names, gone)
                with staging.claimed(copy):
                    left = state(copy, work / moving.NEW, names, gone)
                self.seen.append((self.command, len(names) + len(gone), after, left))
            shutil.rmtree(copy)
            if not killed:
                break
        self.move_all(work, folder, names, gone)

    def _killed(self, copy: Path, names: list[str], gone: list[str], at: int) -> bool:
        asked = [str(copy / staging.WORK), str(copy), list(names), list(gone), at]
        print(json.dumps(asked), file=self.mover.stdin, flush=True)
        return json.loads(self.mover.stdout.readline())


def state(folder: Path, new: Path, names: list[str], gone: list[str]) -> str:
    """Tell whether all files are old, all new, or some each."""
    found = set()
    for name in names:
        data = (folder / name).read_bytes() if (folder / name).exists() else b""
        found.add("old" if data == b"old" else "new" if data == (new / name).read_bytes() else "broken")
    found |= {"old" if (folder / name).exists() else "new" for name in gone}
    return found.pop() if len(found) == 1 else "mixed"


def main(folder: Path, *, kill: bool, as_json: bool) -> None:
    make(folder)
    os.chdir(folder)
    room = folder.parent / f"{folder.name}_killed"
    room.mkdir()
    killer = Killer(room)
    if kill:
        staging.move_all = killer
    shown, told = sys.stdout, []
    for command in COMMANDS:
        killer.command = command[0]
        sys.stdout = io.StringIO()
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            group(args=[*command, *(["--json"] if as_json else [])], prog_name="geoagro", standalone_mode=False)
        told.append(sys.stdout.getvalue())
    print(json.dumps({"kills": killer.seen, "told": told if as_json else []}), file=shown)


if __name__ == "__main__":
    main(Path(sys.argv[1]), kill="--kill" in sys.argv, as_json="--json" in sys.argv)
