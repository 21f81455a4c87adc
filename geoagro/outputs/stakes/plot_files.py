"""Sample plots: as a layer, as waypoints to walk to, and as a list to fill in."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pandas as pd
from gpxpy.gpx import GPX, GPXWaypoint

from geoagro.arrays import Floats
from geoagro.outputs.drawing import looks
from geoagro.outputs.drawing.looks import Fill, Label, Style
from geoagro.outputs.geopackage.layer import OutputLayer
from geoagro.outputs.geopackage.writer import write_geopackage
from geoagro.outputs.staging import staged
from geoagro.outputs.stakes.places import lonlat
from geoagro.outputs.tables.plain_text import guarded_table
from geoagro.outputs.words.say import ENGLISH, Words
from geoagro.values.stakeout import PLOTS
from geoagro.values.words import say

GEOPACKAGE = "plots.gpkg"
_LOOK = Style.plain(say("Sample plot"), Fill("none", looks.INK, outline_mm=0.5), label=Label("plot", looks.INK))


def write_plots(plots: Any, folder: Path, *, title: str, words: Words = ENGLISH) -> list[Path]:
    """Write layer PLOTS, its middles as GPX, and a form as CSV.

    >>> from pathlib import Path
    >>> from geoagro import PlotRule, example_layout, plots_of, write_plots
    >>> import tempfile
    >>> laid = example_layout()
    >>> plots, size = plots_of(laid.beds, laid.plants.frame, PlotRule(radius_m=3.0))
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     print(sorted(path.name for path in write_plots(plots, Path(folder), title="Example")))
    ['plots.csv', 'plots.gpkg', 'plots.gpx']
    """
    folder = Path(folder)
    names = ["plots.gpx", "plots.csv", GEOPACKAGE]
    lon, lat = lonlat(plots["x"], plots["y"], plots.crs)
    with staged(folder, names) as new:
        _write_gpx(new / names[0], plots, (lon, lat), words(say("Sample plots of {name}"), name=title), words)
        form = pd.DataFrame(plots.drop(columns="geometry")).assign(
            lat=[f"{v:.8f}" for v in lat], lon=[f"{v:.8f}" for v in lon], alive="", dead="", missing="", surveyed_on=""
        )
        guarded_table(form).to_csv(new / names[1], index=False, float_format="%.3f")
        write_geopackage(new / names[2], [OutputLayer(PLOTS, plots, _LOOK)], plots.crs, words=words)
    return [folder / name for name in names]


def _write_gpx(path: Path, plots: Any, lonlats: tuple[Floats, Floats], title: str, words: Words) -> None:
    gpx = GPX()
    gpx.creator, gpx.name = "geoagro", title
    for x, y, plot in zip(*lonlats, plots.itertuples(), strict=True):
        told = words(
            say("radius {radius:.2f} m, plants planned: {plants}"), radius=plot.radius_m, plants=int(plot.plants)
        )
        gpx.waypoints.append(
            GPXWaypoint(latitude=float(y), longitude=float(x), name=plot.plot, description=told, symbol="Flag")
        )
    path.write_text(gpx.to_xml(version="1.1"), encoding="utf-8")
