"""`geoagro asbuilt`: what was really planted, from a survey."""

from __future__ import annotations

from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from geoagro.cli.habits.arguments import LAID, design_argument, folder_option
from geoagro.cli.habits.told import tell_figures, tell_files, tell_findings
from geoagro.cli.numbers import Finite
from geoagro.values.base.records import records

if TYPE_CHECKING:
    from geoagro.inputs.survey.fit import Known
    from geoagro.stakeout.records.as_built import AsBuilt

_REPAIRS = ("swapped", "feet", "us-feet", "zone", "degrees", "working", "east-west", "north-south")
_SHIFT = "shift"  # undone after matching, the others while reading


@click.command("asbuilt")
@design_argument()
@click.argument("survey", type=click.Path(path_type=Path))
@folder_option(words=LAID)
@click.option(
    "--what",
    type=click.Choice(["stakes", "plants", "rows"]),
    help="What was surveyed; if left out, guessed from the point names.",
)
@click.option("--date", "on", type=click.DateTime(["%Y-%m-%d"]), help="Day of the survey; else from the file.")
@click.option("--crs", help="CRS of the survey where its file states none, e.g. EPSG:32633.")
@click.option("--layer", help="Layer of the file; for GPX waypoints, tracks or routes.")
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
@click.option(
    "--repair",
    "repairs",
    type=click.Choice([*_REPAIRS, _SHIFT]),
    multiple=True,
    help="Mistake in the coordinates to undo (may be given again); shift undoes what moved or turned all points alike.",
)
def command(
    design: Path,
    survey: Path,
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
) -> None:
    """Compare a SURVEY with the layout of a DESIGN file: offsets, spacing, rows missing, survival, planting again.

    Reads GPX, CSV, GeoPackage, KML and the like. Writes one file per survey into the folder `surveys` beside the
    layout, under its day; nothing that stands there is written over, and the layout stays as it is.
    """
    from geoagro import pipeline
    from geoagro.cli.laid import design_and_layout
    from geoagro.inputs.laid.stakes_file import earlier_marks, read_marks, read_plots
    from geoagro.inputs.survey.file import read_survey
    from geoagro.outputs.stakes.survey_files import write_survey

    _, laid, folder = design_and_layout(design, output)
    known = earlier_marks(folder, laid.crs)
    names = frozenset() if known is None else frozenset(known["stake"])
    reading = [repair for repair in repairs if repair != _SHIFT]
    if len(reading) > 1:
        raise click.UsageError(f"--repair {reading[0]} and --repair {reading[1]} can't both be; give one of them.")
    seen = read_survey(
        survey, laid.site(), what=what, on=_day(on), crs=crs, layer=layer, repair=reading[0] if reading else None,
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
    path = write_survey(built, folder / "surveys", str(laid.path))
    tell_files([path])
    tell_findings(built.findings)
    _say(built)
    click.echo(f"wrote {path}")


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


def _say(built: AsBuilt) -> None:
    if built.marks is not None:
        found = built.marks[built.marks["found"]]
        tell_figures({"stakes": len(built.marks), "stakes_found": len(found)})
        tell_figures({"stakes_off_median_m": float(found["away_m"].median())}, "m")
    if built.survival is not None:
        for crop in records(built.survival[built.survival["row"] == 0]):
            tell_figures({key: crop.number(key) for key in ("alive", "surveyed", "survival")}, of=crop.text("crop"))
    for finding in built.findings:
        click.echo(f"{finding.level}: {finding.where}: {finding.text}")
    if built.marks is not None:
        found = built.marks[built.marks["found"]]
        away, across = found["away_m"].dropna(), found["across_m"].dropna().abs()
        off = (
            f"; off by {away.median():.2f} m (half of them), {away.quantile(0.95):.2f} m (95 %); across the row "
            f"{across.quantile(0.95):.2f} m."
        )
        click.echo(f"{len(found)} of {len(built.marks)} stakes found{off if len(away) else ', without positions.'}")
    if built.rows_found is not None:
        states = built.rows_found["state"].value_counts()
        click.echo(
            "Rows: " + ", ".join(f"{states.get(state, 0)} {state}" for state in ("found", "partial", "missing")) + "."
        )
    if built.rows is not None and built.rows["error_p95_m"].notna().any():
        error = built.rows["error_p95_m"].median()
        click.echo(f"Spacing off by up to {error:.2f} m (95 % of a row, median of rows).")
    if built.survival is not None and built.replant is not None:
        for line in built.survival[built.survival["row"] == 0].itertuples():
            click.echo(_survival(line))
        gone = built.replant["plant"].tolist()
        listed = f": plants {', '.join(map(str, gone[:12]))}{', ...' if gone[12:] else ''}" if gone else ""
        click.echo(f"To plant again: {len(gone)}{listed} (all in layer replant and in the list beside it).")


def _survival(line: Any) -> str:
    if line.surveyed == 0:
        return f"{line.crop}: none of {line.planned} looked at."
    between = f" ({line.low:.1%} to {line.high:.1%}; {line.method})" if line.low == line.low else f" ({line.method})"
    return (
        f"{line.crop}: {line.alive} of {line.surveyed} alive, {line.survival:.1%}{between}; planned {line.planned}, planted "
        f"again since {line.replaced}, dead {line.dead}, missing {line.missing}."
    )
