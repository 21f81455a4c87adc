"""Fields that are laid out in no time, break or kill their process, for the tests of runners (each a job by its name)."""

import os
import time
from pathlib import Path

import shapely

from geoagro.values.results.field_result import FIGURES, FieldResult

OUTLINE = shapely.to_wkb(shapely.MultiPolygon([shapely.box(0, 0, 1, 1)]), hex=True)


def result(name, *, status="done", **more):
    figures = dict.fromkeys(FIGURES, 1.0) if status == "done" else {}
    crops = ({"crop": "apple", "name": "apple", "habit": "tree", "plants": 3, "share_area_m2": 2.5},) if figures else ()
    outline = OUTLINE if status == "done" else ""
    return FieldResult(name, f"fields/{name}", "state", status, figures=figures, crops=crops, outline=outline, **more)


def lay(job: Path, root: Path):
    """Lay out nothing: `kills...` ends its process, `once...` does so the first time, `slow...` takes a while."""
    name = job.parent.name
    mark = root / f"{name}.tried"
    first = not mark.exists()
    mark.touch()
    if name.startswith("kills") or (name.startswith("once") and first):
        os._exit(9)
    if name.startswith("slow"):
        time.sleep(0.3)
    return result(name)


def jobs(root, names):
    return [root / "fields" / name / "design.yaml" for name in names]
