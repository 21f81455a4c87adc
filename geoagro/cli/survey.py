"""`geoagro survey`: what was really planted, from a survey."""

from __future__ import annotations

from datetime import date, datetime
from math import isnan
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from geoagro.cli.habits.arguments import LAID, design_argument, folder_option
from geoagro.cli.habits.language import design_and_words, finding_line, locale_option, say_written
from geoagro.cli.habits.told import tell_figures, tell_files, tell_findings
from geoagro.cli.numbers import Finite
from geoagro.values.base.records import Record, records
from geoagro.values.words import say

if TYPE_CHECKING:
    from geoagro.inputs.survey.fit import Known
    from geoagro.outputs.words.say import Words
    from geoagro.stakeout.records.as_built import AsBuilt

_REPAIRS = ("swapped", "feet", "us-feet", "zone", "degrees", "working", "east-west", "north-south")
_LISTED = 12
_SHIFT = "shift"  # undone after matching, the others while reading


@click.command("survey")
@design_argument()
@click.argument("surveys", type=click.Path(path_type=Path), nargs=-1, required=True, metavar="SURVEY...")
@folder_option(words=LAID)
@click.option(
    "--what",
    type=click.Choice(["stakes", "plants", "rows"]),
    help="What was surveyed; if left out, guessed from the point names.",
)
@click.option("--date", "on", type=click.DateTime(["%Y-%m-%d"]), help="Day of the survey; else from the files.")
@click.option("--crs", help="CRS of the files that state none, e.g. EPSG:32633.")
@click.option("--layer", help="Layer of every file; for GPX waypoints, tracks or routes.")
@click.option("--covers", type=click.Choice(["all", "rows", "plots"]), help="Which plants were looked at.")
@click.option("--crop", "crops", multiple=True, help="Crop that was counted, if not all (may be given again).")
@click.option("--by", default="", help="Who surveyed; stands in the report.")
@click.option("--receiver", default="", help="Receiver used, and how it was corrected; stands in the report.")
@click.option(
    "--within",
    "within_m",
    type=Finite(above=0, most=1000),
    help="Farthest that a point without a name may lie off, metres.",
)
@locale_option()
@click.option(
    "--repair",
    "repairs",
    type=click.Choice([*_REPAIRS, _SHIFT]),
    multiple=True,
    help="Mistake in the coordinates to undo (may be given again); shift undoes what moved or turned all points alike.",
)
def command(
    design: Path,
    surveys: tuple[Path, ...],
    *,
    output: Path | None,
    what: Any,
    on: datetime | None,
    crs: str | None,
    layer: str | None,
    covers: Any,
    crops: tuple[str, ...],
    by: str,
    receiver: str,
    within_m: float | None,
    repairs: tuple[str, ...],
    locale: str | None,
) -> None:
    """Compare a SURVEY with the layout of a DESIGN file: offsets, spacing, rows missing, survival, planting again.

    Reads GPX, CSV, GeoPackage, KML and the like. Several files are one survey, such as the notes of all parts of a large
    map: they are put together as if they stood in one, in the order given. Writes one file per survey into the folder
    `surveys` beside the layout, under its day; nothing that stands there is written over, and the layout stays as it is.
    """
    from geoagro import pipeline
    from geoagro.cli.laid import layout_of
    from geoagro.inputs.laid.stakes_file import earlier_marks, read_marks, read_plots
    from geoagro.inputs.survey.file import read_survey
    from geoagro.outputs.stakes.survey_files import write_survey

    asked, words = design_and_words(design, locale)
    laid, folder = layout_of(asked, output, words)
    known = earlier_marks(folder, laid.crs)
    names = frozenset() if known is None else frozenset(known["stake"])
    reading = [repair for repair in repairs if repair != _SHIFT]
    if len(reading) > 1 and len(surveys) == 1:
        raise click.UsageError(f"--repair {reading[0]} and --repair {reading[1]} can't both be; give one of them.")
    seen = read_survey(
        surveys, laid.site(), what=what, on=_day(on), crs=crs, layer=layer, repair=reading,
        known_marks=names, places=lambda: _places(known, laid.plants()), by=by, receiver=receiver,
    )  # fmt: skip
    rows = laid.rows()
    built = pipeline.built_of(
        seen,
        rows,
        laid.beds(),
        marks=read_marks(folder, rows) if seen.what == "stakes" else None,
        plants=laid.plants() if seen.what == "plants" else None,
        plots=read_plots(folder, laid.crs) if covers == "plots" else None,
        covers=covers,
        crops=crops,
        within_m=within_m,
        undo=_SHIFT in repairs,
    )
    path = write_survey(built, folder / "surveys", str(laid.path), words=words)
    tell_files([path])
    tell_findings(built.findings)
    _say(built, words)
    say_written([path], words)


def _places(marks: Any | None, plants: Any) -> Known:
    """Names and places of stakes and plants together; their names never meet."""
    import numpy as np

    from geoagro.inputs.survey.fit import Known

    frames = [(plants["plant"].astype(str), plants)] if marks is None else [(marks["stake"], marks)]
    if marks is not None:
        frames.append((plants["plant"].astype(str), plants))
    return Known(
        np.concatenate([names.to_numpy(dtype=object) for names, _ in frames]),
        np.vstack([frame[["x", "y"]].to_numpy(dtype=float) for _, frame in frames]),
    )


def _day(on: datetime | None) -> date | None:
    return None if on is None else on.date()


def _say(built: AsBuilt, words: Words) -> None:
    _figures(built)
    for finding in built.findings:
        click.echo(finding_line(finding, words))
    if built.marks is not None:
        click.echo(_marks(built.marks, words))
    if built.rows_found is not None:
        states = built.rows_found["state"].value_counts()
        counts = {state: int(states.get(state, 0)) for state in ("found", "partial", "missing")}
        click.echo(words(say("Rows found: {found}, in part: {partial}, missing: {missing}."), **counts))
    if built.rows is not None and built.rows["error_p95_m"].notna().any():
        error = float(built.rows["error_p95_m"].median())
        click.echo(words(say("Spacing off by up to {error:.2f} m (95 % of a row, median of rows)."), error=error))
    if built.survival is not None and built.replant is not None:
        for crop in records(built.survival[built.survival["row"] == 0]):
            click.echo(_survival(crop, words))
        click.echo(_again(built.replant["plant"].tolist(), words))


def _figures(built: AsBuilt) -> None:
    if built.marks is not None:
        found = built.marks[built.marks["found"]]
        tell_figures({"stakes": len(built.marks), "stakes_found": len(found)})
        tell_figures({"stakes_off_median_m": float(found["away_m"].median())}, "m")
    if built.survival is not None:
        for crop in records(built.survival[built.survival["row"] == 0]):
            tell_figures({key: crop.number(key) for key in ("alive", "surveyed")}, of=crop.text("crop"))
            tell_figures({"survival_pct": crop.number("survival_pct")}, "%", of=crop.text("crop"))


def _marks(marks: Any, words: Words) -> str:
    found = marks[marks["found"]]
    away, across = found["away_m"].dropna(), found["across_m"].dropna().abs()
    counts = {"n": len(found), "all": len(marks)}
    if not len(away):
        return words(say("{n} of {all} stakes found, without positions."), **counts)
    message = say(
        "{n} of {all} stakes found; off by {half:.2f} m (half of them), {most:.2f} m (95 %); across the row {across:.2f} m."
    )
    off = {"half": float(away.median()), "most": float(away.quantile(0.95)), "across": float(across.quantile(0.95))}
    return words(message, **counts, **off)


def _again(gone: list[Any], words: Words) -> str:
    if not gone:
        return words(say("To plant again: none."))
    listed = ", ".join(map(str, gone[:_LISTED])) + (", ..." if gone[_LISTED:] else "")
    message = say("To plant again: {n} (plants {plants}); all are in layer replant and in the list beside it.")
    return words(message, n=len(gone), plants=listed)


def _survival(line: Record, words: Words) -> str:
    crop = words(say("all crops")) if line.text("crop") == "all" else words.crop(line.text("crop"))
    counts = {key: int(line.number(key)) for key in ("planned", "surveyed", "alive", "replaced", "dead", "missing")}
    if not counts["surveyed"]:
        return words(say("{crop}: none of {planned} looked at."), crop=crop, planned=counts["planned"])
    low, high = line.number("low_pct"), line.number("high_pct")
    method = words.again(line.text("method"))
    interval = words(say("{low:.1f} to {high:.1f} %; {method}"), low=low, high=high, method=method)
    return words(
        say(
            "{crop}: {alive} of {surveyed} alive, {survival:.1f} % ({interval}); planned {planned}, planted again since "
            "{replaced}, dead {dead}, missing {missing}."
        ),
        crop=crop, survival=line.number("survival_pct"), interval=method if isnan(low) else interval, **counts,
    )  # fmt: skip
