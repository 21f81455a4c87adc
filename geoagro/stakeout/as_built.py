"""From a survey to what was really built: the same layout, with what was found."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any, Literal

import geopandas as gpd
import numpy as np
import pandas as pd
from numpy.typing import NDArray

from geoagro.arrays import Bools, Ints
from geoagro.errors import LayoutError
from geoagro.stakeout.built_areas import areas_as_built
from geoagro.stakeout.built_plants import (
    half_spacing,
    match_plants,
    plants_as_built,
    plot_of,
    replanting,
    rows_with_plants,
    survival_table,
)
from geoagro.stakeout.built_rows import (
    lines_from_traces,
    lines_through_stakes,
    marks_as_built,
    rows_as_built,
    rows_found,
)
from geoagro.stakeout.matching import match
from geoagro.stakeout.records.as_built import AsBuilt
from geoagro.values.beds import Beds
from geoagro.values.rows import TreeRows
from geoagro.values.site import Finding
from geoagro.values.survey import Survey

Covers = Literal["all", "rows", "plots"]
_MOST_NAMED = 12  # names listed in one message


def as_built(
    survey: Survey,
    rows: TreeRows,
    beds: Beds,
    *,
    marks: Any | None = None,
    plants: Any | None = None,
    plots: Any | None = None,
    covers: Covers | None = None,
    crops: tuple[str, ...] = (),
    within_m: float | None = None,
) -> AsBuilt:
    """Match a survey with the layout and say what was built.

    Parameters
    ----------
    marks, plants
        Layers MARKS and PLANTS of the design; the one that `survey.what` names is needed.
    plots
        Layer PLOTS; needed where `covers` is "plots".
    covers
        What a survey of plants looked at: all plants, all plants of the rows in which it has points, or the
        plots. Needed where rows without points leave it open.
    crops
        Crops that were counted; all if empty. Needed where points tell crops and a planned crop never comes up.
    within_m
        Farthest that a point without a name may lie from its stake or plant. By default a quarter of the row
        spacing for stakes, half of the plant spacing (0.15 to 2 m) for plants.

    Raises
    ------
    LayoutError
        Where `covers` or `plots` is missing, or nothing in the survey matches the design.
    """
    seen = survey.points[~survey.points["far"].to_numpy()].reset_index(drop=True)
    survey_seen = replace(survey, points=seen)
    if survey.what == "rows":
        return _from_traces(survey, rows, beds)
    if survey.what == "stakes":
        assert marks is not None
        return _from_stakes(survey_seen, rows, beds, marks, rows.spacing_m / 4 if within_m is None else within_m)
    assert plants is not None
    within = half_spacing(plants[["x", "y"]].to_numpy()) if within_m is None else within_m
    looked_at = _counted(plants, survey_seen, crops)
    return _from_plants(
        survey_seen, rows, beds, plants, plots=plots, covers=covers, counted=looked_at, within_m=within
    )  # fmt: skip


def _from_stakes(survey: Survey, rows: TreeRows, beds: Beds, marks: gpd.GeoDataFrame, within_m: float) -> AsBuilt:
    points = survey.points[~survey.points["status"].isin(["missing"])].reset_index(drop=True)
    pairs, strayed = match(
        marks["mark"].to_numpy(),
        marks[["x", "y"]].to_numpy(),
        points["name"].to_numpy(),
        points[["x", "y"]].to_numpy(),
        within_m=within_m,
        name_within_m=5 * rows.spacing_m,
    )
    _refuse_nothing(len(pairs.design), survey, within_m)
    built = marks_as_built(marks, points, pairs)
    lines = lines_through_stakes(built)
    found = rows_found(rows, lines)
    extra = np.setdiff1d(np.arange(len(points)), pairs.survey)
    findings = [*survey.findings, *_strayed(strayed, 5 * rows.spacing_m), *_extra(len(extra), "stake")]
    return _result(
        survey,
        within_m,
        areas=areas_as_built(beds, found, None),
        findings=(*findings, *_missing_rows(found)),
        extra=points["point"].to_numpy()[extra],
        marks=built,
        rows=rows_as_built(rows, lines, "stakes"),
        rows_found=found,
    )


def _from_traces(survey: Survey, rows: TreeRows, beds: Beds) -> AsBuilt:
    lines, unmatched = lines_from_traces(rows, survey.traces)
    _refuse_nothing(len(lines), survey, rows.spacing_m / 2)
    found = rows_found(rows, lines)
    findings = list(survey.findings)
    if unmatched:
        text = f"{len(unmatched)} trace(s) run along no row: {_listed(unmatched)}; left out."
        findings.append(Finding("warning", "traces", text))
    return _result(
        survey,
        rows.spacing_m / 2,
        areas=areas_as_built(beds, found, None),
        findings=(*findings, *_missing_rows(found)),
        extra=np.array(unmatched, dtype=np.int64),
        rows=rows_as_built(rows, lines, "trace"),
        rows_found=found,
    )


def _from_plants(
    survey: Survey,
    rows: TreeRows,
    beds: Beds,
    plants: gpd.GeoDataFrame,
    *,
    plots: Any | None,
    covers: Covers | None,
    counted: Bools,
    within_m: float,
) -> AsBuilt:
    points = survey.points
    pairs, strayed = match_plants(plants, points, within_m=within_m, name_within_m=5 * within_m)
    _refuse_nothing(len(pairs.design), survey, within_m)
    plot = None
    if covers == "plots":
        if plots is None:
            raise LayoutError("Sample plots aren't laid out yet. Run `geoagro plots DESIGN` first, and survey those.")
        plot = plot_of(plants[["x", "y"]].to_numpy(), plots)
    looked_at = counted & (plot >= 0 if plot is not None else _in_rows(plants, pairs.design, counted, covers))
    built = plants_as_built(plants, points, pairs, looked_at)
    replant, counts = replanting(built)
    found = rows_with_plants(rows, built)
    extra = np.setdiff1d(np.arange(len(points)), pairs.survey)
    findings = [*survey.findings, *_strayed(strayed, 5 * within_m), *_extra(len(extra), "plant")]
    return _result(
        survey,
        within_m,
        areas=areas_as_built(beds, None, built),
        findings=(*findings, *_missing_rows(found)),
        extra=points["point"].to_numpy()[extra],
        rows_found=found,
        plants=built,
        survival=survival_table(built, plot),
        replant=replant,
        replant_counts=counts,
    )


def _counted(plants: gpd.GeoDataFrame, survey: Survey, crops: tuple[str, ...]) -> Bools:
    """Tell which plants are of a crop that was counted."""
    planned = plants["crop"].to_numpy()
    known = sorted(set(planned))
    unknown = sorted(set(crops) - set(known))
    if unknown:
        raise LayoutError(f"Crop '{unknown[0]}' isn't planted here; planted: {', '.join(known)}.")
    if crops:
        return np.isin(planned, crops)
    told = set(survey.points["crop"])
    absent = sorted(set(known) - told)
    if "" not in told and absent:
        raise LayoutError(
            f"The survey holds no {_listed(absent)}. Say which crops were counted, e.g. "
            f"--crop {_listed(sorted(told & set(known)) or known)}; name all if none of the others was left."
        )
    return np.ones(len(plants), dtype=bool)


def _in_rows(plants: gpd.GeoDataFrame, matched: Ints, counted: Bools, covers: Covers | None) -> Bools:
    """Tell which plants stand in rows that the survey would have seen, by what it covers."""
    row = plants["row"].to_numpy()
    with_points = np.isin(row, np.unique(row[matched]))
    empty = np.unique(row[counted & ~with_points])
    if covers is None and len(empty):
        raise LayoutError(
            f"{len(empty)} of {len(np.unique(row[counted]))} rows hold no surveyed plant (rows {_listed(empty)}). Say "
            "whether they were looked at: --covers all (then their plants count as missing), --covers rows (they "
            "weren't looked at), or --covers plots for sample plots."
        )
    return with_points if covers == "rows" else np.ones(len(plants), dtype=bool)


def _result(
    survey: Survey, within_m: float, *, areas: pd.DataFrame, findings: Sequence[Finding], extra: Ints, **found: Any
) -> AsBuilt:
    told: dict[str, Any] = dict.fromkeys(
        ("marks", "rows", "rows_found", "plants", "survival", "replant", "replant_counts")
    )
    return AsBuilt(
        survey=survey,
        within_m=within_m,
        areas=areas,
        extra=tuple(int(k) for k in extra),
        findings=tuple(findings),
        **(told | found),
    )


def _refuse_nothing(matches: int, survey: Survey, within_m: float) -> None:
    if matches == 0:
        raise LayoutError(
            f"Nothing in survey {survey.name} matches the design's {survey.what} by name or within {within_m:.2f} m. "
            "Check --what and the survey's CRS, or widen --within."
        )


def _strayed(names: list[str], within_m: float) -> list[Finding]:
    if not names:
        return []
    text = (
        f"{len(names)} name(s) lie more than {within_m:.1f} m from where the design has them: {_listed(names)}; matched "
        "by place instead. Were names mixed up?"
    )
    return [Finding("warning", "names", text)]


def _extra(count: int, what: str) -> list[Finding]:
    if count == 0:
        return []
    return [Finding("warning", "points", f"{count} surveyed point(s) match no {what} of the design.")]


def _missing_rows(found: pd.DataFrame) -> list[Finding]:
    missing = found.loc[found["state"] == "missing", "row"].tolist()
    if not missing:
        return []
    return [Finding("warning", "rows", f"{len(missing)} row(s) missing in the survey: {_listed(missing)}.")]


def _listed(names: Sequence[object] | NDArray[np.generic]) -> str:
    told = ", ".join(str(name) for name in list(names)[:_MOST_NAMED])
    return f"{told}, ..." if len(names) > _MOST_NAMED else told
