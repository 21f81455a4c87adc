"""`geoagro sample-plots`: sample plots for a survival count."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click
import geopandas as gpd

from geoagro.cli.habits.arguments import LAID, design_argument, folder_option, gone_option
from geoagro.cli.habits.language import design_and_words, locale_option, say_written
from geoagro.cli.habits.told import tell_figures, tell_files
from geoagro.cli.numbers import Finite
from geoagro.values.words import say


@click.command("sample-plots")
@design_argument()
@folder_option(words=LAID)
@click.option(
    "--radius",
    type=Finite(least=0.1, most=1000),
    default=5.642,
    show_default=True,
    help="Radius of a plot, metres (5.642 is 100 m²).",
)
@click.option(
    "--expected-pct",
    type=Finite(above=0, most=100),
    default=80.0,
    show_default=True,
    help="Survival you expect, percent; 50 is the safe choice.",
)
@click.option(
    "--precision-pct",
    type=Finite(above=0, most=50),
    default=5.0,
    show_default=True,
    help="Half of the interval's width that you want, percentage points.",
)
@gone_option("--expected", "sample-plots")
@gone_option("--precision", "sample-plots")
@click.option(
    "--correlation",
    type=Finite(least=0, most=1),
    default=0.05,
    show_default=True,
    help="Correlation between neighbouring plants, 0 to 1.",
)
@click.option("--crop", "crops", multiple=True, help="Count only this crop (may be given again for another).")
@click.option("--random", "by_chance", is_flag=True, help="Plots at random; otherwise on a grid with a random start.")
@click.option(
    "--seed",
    type=click.IntRange(0, 2**32 - 1),
    default=1,
    show_default=True,
    help="Random seed.",
)
@locale_option()
def command(
    design: Path,
    *,
    output: Path | None,
    radius: float,
    expected_pct: float,
    precision_pct: float,
    correlation: float,
    crops: tuple[str, ...],
    by_chance: bool,
    seed: int,
    locale: str | None,
) -> None:
    """Lay out sample plots over the planted ground of a DESIGN file.

    Writes the folder `plots` beside the layout: layer, waypoints, and a form to fill in. Survey every plant (of the
    crops asked for) in each plot, then run `geoagro survey DESIGN SURVEY... --covers plots` (with the same --crop).
    """
    from geoagro import pipeline
    from geoagro.cli.laid import layout_of
    from geoagro.outputs.stakes.plot_files import write_plots

    asked, words = design_and_words(design, locale)
    laid, folder = layout_of(asked, output, words)
    plots, size = pipeline.plots_of(
        laid.beds(),
        _chosen(laid.plants(), crops),
        pipeline.PlotRule(
            radius_m=radius,
            expected_pct=expected_pct,
            precision_pct=precision_pct,
            correlation=correlation,
            by_chance=by_chance,
            seed=seed,
        ),
    )
    written = write_plots(plots, folder / "plots", title=laid.site().name, words=words)
    message = say(
        "{plants} plants drawn at random would show a survival of {expected:.0f} % to within ±{precision:g} % (95 %); in plots of "
        "about {per_plot:.1f} {per_plot:plant|plants} it takes {effect:.2f} times as many: {needed} plots. Laid out: {laid}, with "
        "{held} plants."
    )
    click.echo(
        words(
            message, plants=size.plants, expected=expected_pct, precision=precision_pct, per_plot=size.plants_per_plot,
            effect=size.design_effect, needed=size.plots, laid=len(plots), held=int(plots["plants"].sum()),
        )
    )  # fmt: skip
    tell_files(written)
    tell_figures({"plots": len(plots), "plots_needed": size.plots, "plants_in_plots": int(plots["plants"].sum())})
    say_written(written, words)


def _chosen(plants: gpd.GeoDataFrame, crops: tuple[str, ...]) -> Any:
    """Plants of the crops asked for."""
    known = sorted(set(plants["crop"]))
    for crop in crops:
        if crop not in known:
            raise click.BadParameter(f"'{crop}' isn't planted here; planted: {', '.join(known)}", param_hint="--crop")
    return plants[plants["crop"].isin(crops)] if crops else plants
