"""Many invented fields, laid out on one machine and on a local Dask cluster that is troubled on purpose; then compared.

Run: python scripts/try_cluster.py [FIELDS] [--folder FOLDER] [--runs one,two,cluster] [--workers 3] [--seed 1]

`geoagro batch` runs with one process, with two, and over a cluster of worker processes reached by its scheduler's address (`--runs`
leaves some out; the others are compared with the first). On the cluster a worker is killed after a quarter of the fields, the scheduler with all workers after half of them (another one starts at the same
address), the command itself after three quarters (it is run again), and one field kills every worker that takes it. One more field
lies off the ground. Then every file of every field is compared with those of the first run, and the portfolio's rows too; the exit
code is 1 where anything differs or a run came to another end than it should. Processor seconds of the cluster are those that fields took, without starts.
"""

from __future__ import annotations

import argparse
import json
import os
import signal
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from hashlib import sha256
from pathlib import Path
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import psutil
import rasterio
from shapely import affinity, box

from geoagro.cli.many import one_field

MEASURED = ["seconds", "processor_s", "memory_mb"]
POISON, ASTRAY = "poisoned", "astray"
PROCESSES, CLUSTER = {"one": 1, "two": 2}, "cluster"
RUNS = (*PROCESSES, CLUSTER)
POLL_S, POISON_S = 1.0, 3.0
PITCH_M, EAST, NORTH = 60.0, 500_000.0, 5_000_000.0
SHARED = """name: shared
inputs:
  boundary: {file: none.gpkg}
  elevation: {file: dem.tif, unit: m}
rows: {method: straight, bearing_deg: 90, spacing_m: 6, min_row_length_m: 8}
plantings:
  - {crop: apple, bed: tree, spacing_m: 4}
  - {crop: bean, bed: vegetable, lines: 2}
"""


def dask_setup(_: Any) -> None:
    """Have this worker killed by the poisoned field; called by Dask, which loads this file in every worker."""
    real = one_field.lay_one

    def lay_one(design_file: Path, root: Path, **asked: Any) -> Any:
        if design_file.parent.name == POISON:
            time.sleep(POISON_S)  # as a field would that takes more and more memory
            os.kill(os.getpid(), signal.SIGKILL)
        return real(design_file, root, **asked)

    one_field.lay_one = lay_one


def make_fields(folder: Path, count: int, seed: int) -> None:
    """Fields of some 0.05 to 0.15 ha in a square, each turned and spaced in its own way, on one wavy raster."""
    rng = np.random.default_rng(seed)
    across = int(np.ceil(np.sqrt(count)))
    shapes, names = [], []
    for k in range(count):
        x, y = EAST + PITCH_M * (k % across), NORTH + PITCH_M * (k // across)
        plain = box(x, y, x + rng.uniform(22, 40), y + rng.uniform(22, 36))
        shapes.append(affinity.rotate(plain, rng.uniform(-20, 20)))
        names.append(f"f{k:05d}")
    names[count // 3] = POISON
    names[count // 2] = ASTRAY
    shapes[count // 2] = affinity.translate(shapes[count // 2], 500_000, 0)
    spacing = np.where(rng.random(count) < 0.5, np.nan, rng.choice([5.0, 7.0], count))
    table = gpd.GeoDataFrame({"name": names, "rows.spacing_m": spacing}, geometry=shapes, crs="EPSG:32633")
    table.to_file(folder / "fields.gpkg", layer="fields")
    side = int((PITCH_M * (across + 1)) // 2)
    yy, xx = np.mgrid[0:side, 0:side] * 2.0
    heights = 300 + 0.02 * xx + 0.05 * yy + 2 * np.sin(xx / 60) * np.cos(yy / 45)
    place = rasterio.Affine(2, 0, EAST - 20, 0, -2, NORTH - 20 + 2 * side)
    with rasterio.open(
        folder / "dem.tif", "w", driver="GTiff", height=side, width=side, count=1, dtype="float32", crs="EPSG:32633",
        transform=place, tiled=True,
    ) as raster:  # fmt: skip
        raster.write(heights.astype("float32"), 1)
    (folder / "shared.yaml").write_text(SHARED, encoding="utf-8")


@dataclass
class Run:
    """What a run of the command came to."""

    name: str
    root: Path
    wall_s: float = 0.0
    processor_s: float = 0.0
    troubled: bool = False
    notes: list[str] = field(default_factory=list)


def command(folder: Path, root: Path, *more: str) -> list[str]:
    """Give the command that lays out all fields into `root`."""
    return [
        sys.executable, "-m", "geoagro", "batch", str(folder / "fields.gpkg"), "--design", str(folder / "shared.yaml"),
        "--output", str(root), *more,
    ]  # fmt: skip


def on_one_machine(folder: Path, workers: int) -> Run:
    """Run with processes of this machine, from the command's start to its end."""
    run = Run(f"{workers} process{'es' if workers > 1 else ''}", folder / f"one_{workers}")
    begin = time.monotonic()
    with (folder / f"one_{workers}.log").open("w") as log:
        started = subprocess.Popen(command(folder, run.root, "--workers", str(workers)), stdout=log, stderr=log)
        _, status, used = os.wait4(started.pid, 0)
    run.wall_s, run.processor_s = time.monotonic() - begin, used.ru_utime + used.ru_stime
    run.notes.append(f"exit code {os.waitstatus_to_exitcode(status)}")
    return run


class Cluster:
    """A scheduler and worker processes (each under a nanny that starts it again) on this machine."""

    def __init__(self, folder: Path, workers: int) -> None:
        self.folder, self.workers = folder, workers
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            self.port = free.getsockname()[1]
        self.address = f"tcp://127.0.0.1:{self.port}"
        self.started: list[subprocess.Popen[bytes]] = []
        self.log = (folder / "cluster.log").open("ab")

    def start(self) -> None:
        """Start the scheduler and its workers."""
        more = {"DASK_DISTRIBUTED__SCHEDULER__ALLOWED_FAILURES": "1"}
        self._start("dask_scheduler", "--host", "127.0.0.1", "--port", str(self.port), "--no-dashboard", **more)
        self.mend()

    def mend(self) -> None:
        """Start a nanny for each that is missing: one gives up when its worker is killed while it starts."""
        self.started = [program for program in self.started if program.poll() is None or program is self.started[0]]
        while len(self.started) <= self.workers:
            self._start("dask_worker", self.address, "--nworkers", "1", "--nthreads", "1", "--no-dashboard",
                        "--local-directory", str(self.folder / "dask"), "--preload", __file__)  # fmt: skip

    def _start(self, program: str, *arguments: str, **more: str) -> None:
        call = [sys.executable, "-m", f"distributed.cli.{program}", *arguments]
        self.started.append(subprocess.Popen(call, stdout=self.log, stderr=self.log, env=os.environ | more))

    def until_done(self, batch: subprocess.Popen[bytes]) -> int:
        """Wait for the command, with workers there; gives its exit code."""
        while batch.poll() is None:
            self.mend()
            time.sleep(POLL_S)
        return batch.returncode

    def kill_a_worker(self) -> None:
        """Kill the process that works under the first nanny."""
        for nanny in self.started[1:]:
            own = [
                p for p in psutil.Process(nanny.pid).children(recursive=True) if "spawn_main" in " ".join(p.cmdline())
            ]
            if own:
                own[0].kill()
                return

    def kill(self) -> None:
        """Kill the scheduler first, then all workers with their nannies."""
        for program in self.started:
            below = psutil.Process(program.pid).children(recursive=True) if program.poll() is None else []
            program.kill()
            for process in below:
                process.kill()
            program.wait()
        self.started = []


@contextmanager
def cluster_of(folder: Path, workers: int) -> Iterator[Cluster]:
    """Start a cluster, and end it afterwards."""
    cluster = Cluster(folder, workers)
    cluster.start()
    try:
        yield cluster
    finally:
        cluster.kill()
        cluster.log.close()


def on_troubled_cluster(folder: Path, count: int, workers: int) -> Run:
    """Run over the cluster; what goes wrong meanwhile stands in the notes."""
    run = Run(f"cluster, {workers} workers", folder / "cluster", troubled=True)
    begin = time.monotonic()
    with cluster_of(folder, workers) as cluster, (folder / "batch_cluster.log").open("w") as log:
        call = command(folder, run.root, "--scheduler", cluster.address)
        batch = subprocess.Popen(call, stdout=log, stderr=log)

        def kill_scheduler() -> None:
            cluster.kill()
            cluster.start()

        def when(share: float, act: Callable[[], None], told: str) -> None:
            while _laid(run.root) < count * share and batch.poll() is None:
                cluster.mend()
                time.sleep(POLL_S)
            _act(run, batch, act, told)

        when(0.25, cluster.kill_a_worker, "worker killed")
        when(0.5, kill_scheduler, "scheduler and workers killed, started again")
        when(0.75, batch.kill, "command killed, run again")
        if cluster.until_done(batch) < 0:
            batch = subprocess.Popen(call, stdout=log, stderr=log)
        run.notes.append(f"exit code {cluster.until_done(batch)}")
        run.wall_s = time.monotonic() - begin
        run.notes.append(_further(run, cluster, call, log))
    return run


def _act(run: Run, batch: subprocess.Popen[bytes], act: Callable[[], None], told: str) -> None:
    if batch.poll() is None:
        run.notes.append(f"{told} after {_laid(run.root)} fields")
        act()


def _laid(root: Path) -> int:
    return sum(1 for _ in root.glob("fields/*/result/field.json"))


def _further(run: Run, cluster: Cluster, call: list[str], log: Any) -> str:
    """Run once more: nothing that was laid out may be touched."""
    before = {path: path.stat().st_mtime_ns for path in run.root.glob("fields/*/result/*")}
    begin = time.monotonic()
    cluster.until_done(subprocess.Popen(call, stdout=log, stderr=log))
    again = sum(path.stat().st_mtime_ns != then for path, then in before.items())
    return f"further run: {time.monotonic() - begin:.0f} s, {again} of {len(before)} files written again"


def contents(root: Path) -> dict[str, tuple[int, str]]:
    """Take size and checksum of every file of every field, what was measured (and times of change) aside."""
    found = {}
    for path in sorted(root.glob("fields/**/*")):
        if not path.is_file() or ".geoagro" in path.parts:
            continue
        data = path.read_bytes()
        if path.name == "field.json":
            line = json.loads(data)
            data = json.dumps({key: line[key] for key in line if key not in [*MEASURED, "state"]}).encode()
        found[path.relative_to(root).as_posix()] = len(data), sha256(data).hexdigest()
    return found


def rows(root: Path) -> pd.DataFrame:
    """Read the portfolio's lines by field, what was measured aside."""
    parts = [pd.read_parquet(path) for path in sorted(root.glob("portfolio/fields/*.parquet"))]
    return pd.concat(parts).set_index("field").sort_index()


@dataclass(frozen=True)
class Difference:
    """What a run left otherwise than the first, the poisoned field aside: names of files, and whether rows differ."""

    run: Run
    files: list[str]
    rows: bool
    read: int
    size_mb: float

    def told(self) -> str:
        """Give a line of the table of comparisons, and the first files that differ."""
        same = "DIFFER" if self.rows else "same"
        words = f"| {self.run.name} | {self.read} files, {self.size_mb:.1f} MB | {len(self.files)} | {same} |"
        return "\n".join([words, *(f"  differs: {name}" for name in self.files[:10])])


def compared(one: Run, other: Run) -> Difference:
    """Compare a run with the first, file by file and row by row."""
    first, second = (
        {name: told for name, told in contents(run.root).items() if f"/{POISON}/" not in name} for run in (one, other)
    )
    differing = sorted(name for name in first.keys() | second.keys() if first.get(name) != second.get(name))
    lines = [rows(run.root).drop(index=POISON, errors="ignore").drop(columns=MEASURED) for run in (one, other)]
    size = sum(told[0] for told in second.values()) / 1e6
    return Difference(other, differing, not lines[0].equals(lines[1]), len(second), size)


def wrong_ends(run: Run, count: int) -> list[str]:
    """Name what came to another end than it should: off the ground a field fails, on a cluster the poisoned one dies.

    Others may fail too, with a reason of their own (rows too short), which is the same in all runs.
    """
    status = rows(run.root)["status"]
    wrong = [] if status.get(ASTRAY) == "failed" else [f"{ASTRAY} didn't fail"]
    died = sorted(status.index[status == "died"])
    if died != ([POISON] if run.troubled else []):
        wrong.append(f"died: {', '.join(died) or 'none'}")
    return wrong if len(status) == count else [*wrong, f"{len(status)} of {count} fields have a row"]


def told(run: Run, first: Run) -> str:
    """Give a line of the table of times."""
    table = rows(run.root)
    used = run.processor_s or float(table["processor_s"].sum())
    status = ", ".join(f"{count} {name}" for name, count in table["status"].value_counts().items())
    memory = table["memory_mb"].max()
    return (
        f"| {run.name} | {status} | {run.wall_s:.0f} | {used:.0f} | {first.wall_s / run.wall_s:.2f} | {memory:.0f} | "
        f"{table['processor_s'].median():.2f} |"
    )


def main() -> None:
    """Make, run, compare, print."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("fields", nargs="?", type=int, default=60)
    parser.add_argument("--folder", type=Path)
    parser.add_argument("--runs", default=",".join(RUNS), help="Which, comma-separated.")
    parser.add_argument("--workers", type=int, default=3)
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as own:
        folder = (asked.folder or Path(own)).absolute()
        folder.mkdir(parents=True, exist_ok=True)
        make_fields(folder, asked.fields, asked.seed)
        wanted = asked.runs.split(",")
        runs = [on_one_machine(folder, number) for name, number in PROCESSES.items() if name in wanted]
        if CLUSTER in wanted:
            runs.append(on_troubled_cluster(folder, asked.fields, asked.workers))
        sys.exit(1 if tell(runs, asked.fields) else 0)


def tell(runs: list[Run], count: int) -> bool:
    """Print the tables; tells whether anything is otherwise than it should be."""
    print("| run | fields | seconds | of processor | times as fast | MB per process, at most | median s a field |")
    print("|---|---|---|---|---|---|---|")
    print("\n".join(told(run, runs[0]) for run in runs))
    found = [compared(runs[0], run) for run in runs[1:]]
    print(f"\n| compared with {runs[0].name} | read | differing | portfolio rows |\n|---|---|---|---|")
    print("\n".join(difference.told() for difference in found))
    print("\n".join(f"{run.name}: {note}" for run in runs for note in run.notes))
    wrong = [f"{run.name}: {end}" for run in runs for end in wrong_ends(run, count)]
    print("\n".join(wrong) or "every field came to the end that it should")
    return bool(wrong) or any(difference.files or difference.rows for difference in found)


if __name__ == "__main__":
    main()
