"""Draw each stage of laying rows on contour, for the one who works on the engine.

Run: python scripts/draw_row_stages.py DESIGN FOLDER

Writes 1_uphill.png to 5_rows.png into FOLDER: the lattice's uphill directions, the smooth start of the row field, the
legal field with its seams, its level lines, the nudged rows, and the rows after the hard limits with what was cut.
"""

from __future__ import annotations

import sys
from pathlib import Path

import matplotlib.pyplot as plt
import numpy as np

from geoagro.inputs.design_file import read_design
from geoagro.inputs.ground_source import read_ground_source
from geoagro.inputs.site import read_site
from geoagro.pipeline import ground_of, terrain_of
from geoagro.rows.contour import BENDS_M, CELL_SHARES, FIELD_GRADE_SHARE, FIELD_TOLERANCE_SHARE, RELAX_STEP_M
from geoagro.rows.fall import aimed, row_limits, wanted_fall
from geoagro.rows.finishing import finish_rows
from geoagro.rows.guides import pin_guides
from geoagro.rows.lattice import build_lattice
from geoagro.rows.level_lines import clipped, level_lines
from geoagro.rows.relaxation import Slopes, Wishes, relax_rows
from geoagro.rows.row_field import Limits, legal_field, level_start, nearest_legal, poisson_start

CUT_LOOKS = {"grade_limit": "C3", "spacing_limit": "C0", "turn_radius": "C4", "short_row": "C1"}


def main() -> None:
    """Lay the rows of one design stage by stage, with the engine's own parts."""
    design, folder = read_design(Path(sys.argv[1])), Path(sys.argv[2])
    folder.mkdir(parents=True, exist_ok=True)
    site = read_site(design)
    terrain = terrain_of(design, site, read_ground_source(design, site))
    area, rule = ground_of(design, site, terrain).plantable, design.rows
    d, wide = rule.spacing_m, row_limits(rule)
    limits = Limits(wide.tolerance * FIELD_TOLERANCE_SHARE, wide.grade * FIELD_GRADE_SHARE)
    _, smooth = terrain.need_heights("this drawing")
    fall = wanted_fall(rule, smooth, site.outlet)
    lattice = aimed(build_lattice(area.buffer(2 * d), smooth, CELL_SHARES[0] * d), fall)

    def sheet(name: str, title: str):
        figure, axes = plt.subplots(figsize=(10, 9))
        for part in area.geoms:
            for ring in (part.exterior, *part.interiors):
                axes.plot(*ring.xy, color="black", linewidth=1)
        axes.set(title=title, aspect="equal", xticks=[], yticks=[])
        return axes, lambda: (figure.savefig(folder / name, dpi=110), plt.close(figure))

    axes, done = sheet("1_uphill.png", "Uphill, or what rows must be square to")
    few = slice(None, None, max(1, len(lattice.slope) // 1500))
    axes.quiver(*lattice.centre[few].T, *lattice.uphill[few].T, lattice.slope[few], cmap="viridis", scale=60)
    done()

    start = poisson_start(lattice, lattice.uphill)
    phi = level_start(lattice, start, limits, bend_m=BENDS_M[0], pinned=pin_guides(lattice, start, site.guides, d))
    for name, title in (("2_start.png", "Smooth start"), ("3_legal.png", "Legal where it can be, seams elsewhere")):
        if name == "3_legal.png":
            phi = legal_field(lattice, phi, limits, pinned=pin_guides(lattice, phi, site.guides, d))
        gradient = lattice.gradient_of(phi)
        off = np.hypot(*(gradient - nearest_legal(gradient, lattice, limits)).T)
        axes, done = sheet(name, f"{title}: distance of grad phi from a legal one (dark: 0.2 or more)")
        axes.scatter(*lattice.centre.T, c=np.minimum(off, 0.2), s=4, cmap="Greys")
        axes.contour(lattice.x, lattice.y, lattice.image(phi), levels=np.arange(np.ptp(phi) // d) * d + phi.min())
        done()

    rows = clipped(level_lines(lattice, phi, d, 0.0), area.buffer(1.5 * d), 0.5 * d)
    wishes = Wishes(d, wide, rule.preferred_grade_pct / 100, rule.min_turn_radius_m, fall, site.guides)
    nudged = relax_rows(rows, Slopes.of(terrain.judged), area.buffer(0.3 * d), wishes, steps_m=(RELAX_STEP_M,) * 16)
    axes, done = sheet("4_nudged.png", "Level lines (grey) and where they were nudged to")
    for lines, look in ((rows, "0.7"), (nudged, "black")):
        for line in lines:
            axes.plot(*line.xy, color=look, linewidth=0.8)
    done()

    held = finish_rows(
        nudged,
        area,
        terrain.judged,
        spacing_m=d,
        tolerance=rule.spacing_tolerance,
        max_grade=rule.max_grade_pct / 100,
        min_radius_m=rule.min_turn_radius_m,
        min_length_m=rule.min_row_length_m,
    )
    axes, done = sheet("5_rows.png", "Rows that hold every limit; cut: " + ", ".join(CUT_LOOKS))
    for line in held.kept:
        axes.plot(*line.xy, color="black", linewidth=0.8)
    for reason, line in held.cut:
        axes.plot(*line.xy, color=CUT_LOOKS[reason], linewidth=2)
    done()


if __name__ == "__main__":
    main()
