"""Draw each stage of laying rows on contour, for the one who works on the engine.

Run: python scripts/draw_row_stages.py DESIGN FOLDER

Writes 1_uphill.png to 6_mended.png into FOLDER: the lattice's uphill directions, the smooth start of the row field, the
legal field with its seams, its level lines and where they were nudged to, the rows after the hard limits with what was
cut, and the rows after they were mended.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import matplotlib.pyplot as plt
import numpy as np

from geoagro.inputs.design.file import read_design
from geoagro.inputs.raster.ground_source import read_ground_source
from geoagro.inputs.site import read_site
from geoagro.pipeline import ground_of, terrain_of
from geoagro.rows.candidates import Candidate, cut_to_limits, mended, nudged
from geoagro.rows.clipping import clipped
from geoagro.rows.contour import BENDS_M, CELL_SHARES, FIELD_GRADE_SHARE, FIELD_TOLERANCE_SHARE, THOROUGH
from geoagro.rows.fall import inside, row_limits, wanted_fall, wanted_uphill
from geoagro.rows.guides import pin_guides
from geoagro.rows.lattice import build_lattice
from geoagro.rows.level_lines import level_lines
from geoagro.rows.row_field import LegalGradients, legal_field, level_start, poisson_start
from geoagro.rows.task import Task
from geoagro.values.reasons import REASONS

CUT_LOOKS = {code: f"C{number}" for number, code in enumerate(REASONS)}


def main() -> None:
    """Lay the rows of one design stage by stage, with the engine's own parts."""
    design, folder = read_design(Path(sys.argv[1])), Path(sys.argv[2])
    folder.mkdir(parents=True, exist_ok=True)
    site = read_site(design)
    terrain = terrain_of(design, site, read_ground_source(design, site))
    area, rule = ground_of(design, site, terrain).plantable, design.rows
    d = rule.spacing_m
    _, smooth = terrain.need_heights("this drawing")
    fall = wanted_fall(rule, smooth, site.outlet)
    lattice = build_lattice(area.buffer(2 * d), smooth, CELL_SHARES[0] * d)
    limits = inside(row_limits(rule, lattice, fall), FIELD_TOLERANCE_SHARE, FIELD_GRADE_SHARE)
    square_to = wanted_uphill(lattice, fall)

    def sheet(name: str, title: str):
        figure, axes = plt.subplots(figsize=(10, 9))
        for part in area.geoms:
            for ring in (part.exterior, *part.interiors):
                axes.plot(*ring.xy, color="black", linewidth=1)
        axes.set(title=title, aspect="equal", xticks=[], yticks=[])
        return axes, lambda: (figure.savefig(folder / name, dpi=110), plt.close(figure))

    axes, done = sheet("1_uphill.png", "Uphill, or what rows must be square to")
    few = slice(None, None, max(1, len(lattice.slope) // 1500))
    axes.quiver(*lattice.centre[few].T, *square_to[few].T, lattice.slope[few], cmap="viridis", scale=60)
    done()

    start = poisson_start(lattice, square_to)
    phi = level_start(lattice, start, limits, bend_m=BENDS_M[0], pinned=pin_guides(lattice, start, site.guides, d))
    for name, title in (("2_start.png", "Smooth start"), ("3_legal.png", "Legal where it can be, seams elsewhere")):
        if name == "3_legal.png":
            phi = legal_field(lattice, phi, limits, pinned=pin_guides(lattice, phi, site.guides, d))
        gradient = lattice.gradient_of(phi)
        off = np.hypot(*(gradient - LegalGradients.of(lattice, limits).nearest(gradient)).T)
        axes, done = sheet(name, f"{title}: distance of grad phi from a legal one (dark: 0.2 or more)")
        axes.scatter(*lattice.centre.T, c=np.minimum(off, 0.2), s=4, cmap="Greys")
        axes.contour(lattice.x, lattice.y, lattice.image(phi), levels=np.arange(np.ptp(phi) // d) * d + phi.min())
        done()

    rows = clipped(level_lines(lattice, phi, d, 0.0), area.buffer(1.5 * d), 0.5 * d)
    task = Task(area, smooth, terrain.judged, rule, tuple(site.guides), fall)
    moved = nudged(rows, task)
    axes, done = sheet("4_nudged.png", "Level lines (grey) and where they were nudged to")
    for lines, look in ((rows, "0.7"), (moved, "black")):
        for line in lines:
            axes.plot(*line.xy, color=look, linewidth=0.8)
    done()

    found = cut_to_limits(moved, task)
    draw_candidate(sheet, "5_rows.png", "Rows that hold every limit", found)
    for _ in range(THOROUGH.mends):
        found = mended(found, task)
    draw_candidate(sheet, "6_mended.png", "Rows run on, joined and filled in, nudged and cut again", found)


def draw_candidate(sheet: Callable[[str, str], Any], name: str, title: str, found: Candidate) -> None:
    """Rows in black, what was cut from them in its reason's colour."""
    cuts = {reason for reason, _ in found.held.cut}
    axes, done = sheet(name, f"{title}\nlegal share {found.share:.3f}; cut: " + ", ".join(sorted(cuts)))
    for line in found.held.kept:
        axes.plot(*line.xy, color="black", linewidth=0.8)
    for reason, line in found.held.cut:
        axes.plot(*line.xy, color=CUT_LOOKS[reason], linewidth=2)
    done()


if __name__ == "__main__":
    main()
