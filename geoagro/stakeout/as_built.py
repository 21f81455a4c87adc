"""From a survey to what was really built: the same layout, with what was found."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any, Literal

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from geoagro.arrays import Bools, Floats, Ints
from geoagro.errors import LayoutError
from geoagro.stakeout import survey_words as words
from geoagro.stakeout.built_areas import areas_as_built
from geoagro.stakeout.built_plants import (
    half_spacing,
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
    staked_rows,
    traced_rows,
)
from geoagro.stakeout.receiver_error import accuracy_of, offsets_in_rows
from geoagro.stakeout.records.accuracy import Accuracy
from geoagro.stakeout.records.as_built import AsBuilt
from geoagro.stakeout.registering import Designed, Registered, registered
from geoagro.values.beds import Beds
from geoagro.values.rows import TreeRows
from geoagro.values.site import Finding
from geoagro.values.survey import Survey
from geoagro.values.words import Sentence

Covers = Literal["all", "rows", "plots"]


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
    undo: bool = False,
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
    undo
        Undo what moved all points alike (a wrong base, a turn, a scale).

    Raises
    ------
    LayoutError
        Where `covers` or `plots` is missing, or most of the survey matches nothing in the design.
    """
    seen = survey.points[~survey.points["far"].to_numpy()].reset_index(drop=True)
    survey_seen = replace(survey, points=seen)
    if survey.what == "rows":
        return _from_traces(survey, rows, beds)
    if survey.what == "stakes":
        assert marks is not None
        reach = rows.spacing_m / 4 if within_m is None else within_m
        return _from_stakes(survey_seen, rows, beds, marks, reach, undo=undo)
    assert plants is not None
    within = half_spacing(plants[["x", "y"]].to_numpy()) if within_m is None else within_m
    return _from_plants(
        survey_seen, rows, beds, plants, plots=plots, covers=covers, crops=crops, within_m=within, undo=undo
    )


def _from_stakes(survey: Survey, rows: TreeRows, beds: Beds, marks: Any, within_m: float, *, undo: bool) -> AsBuilt:
    points = survey.points[~survey.points["status"].isin(["missing", "not looked at"])].reset_index(drop=True)
    xy, row = marks[["x", "y"]].to_numpy(), marks["row"].to_numpy()
    design = Designed("stakes", marks["stake"].to_numpy(), xy, row, np.full(len(marks), "", dtype=object))
    known = registered(
        design, points, survey=survey.name, within_m=within_m, name_within_m=5 * rows.spacing_m, undo=undo
    )
    points = moved(points, known.xy)
    built = marks_as_built(marks, points, known.pairs)
    lines = lines_through_stakes(built)
    found = staked_rows(rows, built)
    accuracy, offsets = _accuracy(design, known, rows)
    extra = _unmatched(points, known)
    findings = [
        *survey.findings, *known.findings, *words.accuracy(accuracy, known.by_names, within_m),
        *words.rows_off(offsets), *words.extra(points, extra, "stake"), *words.missing_rows(found),
    ]  # fmt: skip
    return _result(
        survey,
        within_m,
        areas=areas_as_built(beds, found, None),
        findings=findings,
        extra=points["point"].to_numpy()[extra],
        alignment=known.alignment,
        accuracy=accuracy,
        row_offsets=offsets,
        marks=built,
        rows=rows_as_built(rows, lines, "stakes"),
        rows_found=found,
    )


def _from_traces(survey: Survey, rows: TreeRows, beds: Beds) -> AsBuilt:
    lines, unmatched = lines_from_traces(rows, survey.traces)
    if not lines:
        raise LayoutError(
            f"Nothing in survey {survey.name} runs along a row within {rows.spacing_m / 2:.2f} m. Check --what and the "
            "survey's CRS."
        )
    found = traced_rows(rows, lines)
    findings = list(survey.findings)
    if unmatched:
        text = Sentence(
            "{n} {n:trace runs|traces run} along no row: {unmatched}; left out.",
            n=len(unmatched),
            unmatched=words.listed(unmatched),
        )
        findings.append(Finding("warning", "traces", text))
    return _result(
        survey,
        rows.spacing_m / 2,
        areas=areas_as_built(beds, found, None),
        findings=(*findings, *words.missing_rows(found)),
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
    crops: tuple[str, ...],
    within_m: float,
    undo: bool,
) -> AsBuilt:
    design = Designed(
        "plants", plants["plant"].to_numpy().astype(str), plants[["x", "y"]].to_numpy(), plants["row"].to_numpy(),
        plants["crop"].to_numpy().astype(object),
    )  # fmt: skip
    known = registered(
        design, survey.points, survey=survey.name, within_m=within_m, name_within_m=5 * within_m, undo=undo
    )
    points = moved(survey.points, known.xy)
    counted = _counted(plants, points, crops, known.pairs.design if known.by_names else None)
    plot = None
    if covers == "plots":
        if plots is None:
            raise LayoutError(
                "Sample plots aren't laid out yet. Run `geoagro sample-plots DESIGN` first, and survey those."
            )
        plot = plot_of(design.xy, plots)
    looked_at = counted & (plot >= 0 if plot is not None else _in_rows(plants, known.pairs.design, counted, covers))
    built = plants_as_built(plants, points, known.pairs, looked_at)
    mine = built[counted].reset_index(drop=True)
    survival = survival_table(mine, None if plot is None else plot[counted])
    replant, counts = replanting(built, numbered=known.by_names)
    found = rows_with_plants(rows, built)
    accuracy, offsets = _accuracy(design, known, rows)
    extra = _unmatched(points, known)
    findings = [
        *survey.findings, *known.findings, *words.accuracy(accuracy, known.by_names, within_m),
        *words.rows_off(offsets), *words.extra(points, extra, "plant"),
        *(words.by_place(points, known.pairs, plants) if known.by_names else []), *words.missing_rows(found),
        *words.plots_only(survival, plot is not None),
    ]  # fmt: skip
    return _result(
        survey,
        within_m,
        areas=areas_as_built(beds, None, built),
        findings=findings,
        extra=points["point"].to_numpy()[extra],
        alignment=known.alignment,
        accuracy=accuracy,
        row_offsets=offsets,
        rows_found=found,
        plants=built,
        survival=survival,
        replant=replant,
        replant_counts=counts,
        covers=covers or "all",
    )


def _accuracy(design: Designed, known: Registered, rows: TreeRows) -> tuple[Accuracy, Any]:
    """Scatter of the matched points, and where rows stand, without what moved all of them."""
    at, to = known.pairs.design, known.pairs.survey
    xy = known.xy
    if known.alignment is not None and known.alignment.told and not known.alignment.undone:
        xy = known.alignment.similarity.undone(xy)
    seen = np.isfinite(xy[to]).all(axis=1)
    at, to = at[seen], to[seen]
    return accuracy_of(offsets_in_rows(design.xy[at], xy[to], design.row[at], rows), known.repeats)


def _unmatched(points: Any, known: Registered) -> Any:
    return np.setdiff1d(np.arange(len(points)), np.concatenate([known.pairs.survey, known.again]))


def moved(points: Any, xy: Floats) -> Any:
    """Give points (layer SURVEY_POINTS) other places."""
    there = np.asarray(np.isfinite(xy).all(axis=1), dtype=bool)
    dots = np.full(len(xy), shapely.Point(), dtype=object)
    dots[there] = shapely.points(xy[there])
    return points.assign(x=xy[:, 0], y=xy[:, 1]).set_geometry(gpd.GeoSeries(dots, index=points.index, crs=points.crs))


def _counted(plants: Any, points: Any, crops: tuple[str, ...], named: Any | None) -> Any:
    """Tell which plants are of a crop that was counted; `named` are plants found by number, whose crops are known."""
    planned = plants["crop"].to_numpy()
    known = sorted(set(planned))
    unknown = sorted(set(crops) - set(known))
    if unknown:
        raise LayoutError(f"Crop '{unknown[0]}' isn't planted here; planted: {', '.join(known)}.")
    if crops:
        return np.isin(planned, crops)
    told = set(points["crop"]) if named is None else set(planned[named])
    absent = sorted(set(known) - told)
    if "" not in told and absent:
        raise LayoutError(
            f"The survey holds no {words.listed(absent)}. Say which crops were counted, e.g. "
            f"--crop {words.listed(sorted(told & set(known)) or known)}; name all if none of the others was left."
        )
    return np.ones(len(plants), dtype=bool)


def _in_rows(plants: gpd.GeoDataFrame, matched: Ints, counted: Bools, covers: Covers | None) -> Bools:
    """Tell which plants stand in rows that the survey would have seen, by what it covers."""
    row = plants["row"].to_numpy()
    with_points = np.isin(row, np.unique(row[matched]))
    empty = np.unique(row[counted & ~with_points])
    if covers is None and len(empty):
        raise LayoutError(
            f"{len(empty)} of {len(np.unique(row[counted]))} rows hold no surveyed plant (rows {words.listed(empty)}). Say "
            "whether they were looked at: --covers all (then their plants count as missing), --covers rows (they "
            "weren't looked at), or --covers plots for sample plots."
        )
    return with_points if covers == "rows" else np.ones(len(plants), dtype=bool)


def _result(
    survey: Survey, within_m: float, *, areas: pd.DataFrame, findings: Sequence[Finding], extra: Ints, **found: Any
) -> AsBuilt:
    told: dict[str, Any] = dict.fromkeys(
        (
            "marks", "rows", "rows_found", "plants", "survival", "replant", "replant_counts", "alignment", "accuracy",
            "row_offsets",
        )
    )  # fmt: skip
    return AsBuilt(
        survey=survey,
        within_m=within_m,
        areas=areas,
        extra=tuple(int(k) for k in extra),
        findings=tuple(findings),
        **(told | {"covers": "all"} | found),
    )
