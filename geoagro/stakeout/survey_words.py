"""What a survey says, in sentences: its receiver, rows off their place, points that match nothing, plots."""

from __future__ import annotations

from typing import Any

import numpy as np

from geoagro.stakeout.matching import Pairs, plain_name
from geoagro.stakeout.records.accuracy import Accuracy
from geoagro.stakeout.registering import listed
from geoagro.values.site import Finding

__all__ = ["accuracy", "extra", "listed", "missing_rows", "plots_only", "rows_off"]

_COARSE = 3.0  # standard deviations that a point must lie within to be matched by place


def accuracy(one: Accuracy, by_names: bool, within_m: float) -> list[Finding]:
    """Say what the receiver scatters, and what is left to planting."""
    if not np.isfinite(one.scatter_m):
        return []
    if one.repeats:
        text = (
            f"Single points scatter by {one.scatter_m:.2f} m (standard deviation each way). The receiver's own part is "
            f"{one.receiver_m:.2f} m, from {one.repeats} point(s) measured again; {one.plants_m:.2f} m is left to single "
            "plants or stakes."
        )
    else:
        text = (
            f"Single points scatter by {one.scatter_m:.2f} m (standard deviation each way): the receiver's error is at most "
            "that, and so is that of single plants or stakes. Measuring some points again would tell them apart."
        )
    if np.isfinite(one.drift_m):
        text += (
            f" Whole rows: the receiver drifts by {one.drift_m:.2f} m, planting puts them off by {one.rows_m:.2f} m."
        )
    found = [Finding("note", "receiver", text)]
    if not by_names and _COARSE * one.scatter_m > within_m:
        text = (
            f"Points without a known name are matched within {within_m:.2f} m, little for a scatter of {one.scatter_m:.2f} m: "
            "some are matched to a neighbour, and counts by place are rough. Record names (numbers)."
        )
        found.append(Finding("warning", "receiver", text))
    return found


def rows_off(offsets: Any) -> list[Finding]:
    """Name rows off their place with side and distance, the farthest first."""
    off = offsets[offsets["off_place"].astype(bool)]
    if len(off) == 0:
        return []
    off = off.iloc[np.argsort(-off["across_m"].abs().to_numpy(), kind="stable")]
    parts = [
        f"row {row} stands {abs(across):.2f} m {'upslope' if across > 0 else 'downslope'}"
        for row, across in zip(off["row"], off["across_m"], strict=True)
    ]
    return [Finding("warning", "rows", f"{len(off)} row(s) off their place: {listed(parts)}.")]


def extra(points: Any, at: Any, what: str) -> list[Finding]:
    """Name the points that match nothing."""
    if len(at) == 0:
        return []
    names = [
        str(name) if name else f"point {number} (no name)"
        for name, number in zip(points["name"].iloc[at], points["point"].iloc[at], strict=True)
    ]
    return [
        Finding("warning", "points", f"{len(at)} surveyed point(s) match no {what} of the design: {listed(names)}.")
    ]


def by_place(points: Any, pairs: Pairs, plants: Any) -> list[Finding]:
    """Name points of a survey by names whose own name no plant has, and the plants that they were taken for by place."""
    known = {plain_name(number) for number in plants["plant"]}
    names = points["name"].fillna("").astype(str).to_numpy()
    strange = [
        f"{names[s]} (plant {plants['plant'].iloc[d]}, {plants['crop'].iloc[d]})"
        for d, s, by in zip(pairs.design, pairs.survey, pairs.by, strict=True)
        if by == "place" and names[s] and plain_name(names[s]) not in known
    ]
    if not strange:
        return []
    text = (
        f"{len(strange)} point(s) bear a name that no plant has, and were taken for the nearest free plant: {listed(strange)}. "
        "Give them that plant's number, or leave them out."
    )
    return [Finding("warning", "points", text)]


def missing_rows(found: Any) -> list[Finding]:
    """Name rows that the survey doesn't have."""
    missing = found.loc[found["state"] == "missing", "row"].tolist()
    if not missing:
        return []
    return [Finding("warning", "rows", f"{len(missing)} row(s) missing in the survey: {listed(missing)}.")]


def plots_only(survival: Any, by_plots: bool) -> list[Finding]:
    """Say that plots are plots, and what they say of the field."""
    if not by_plots:
        return []
    whole = survival[(survival["row"] == 0) & (survival["crop"] == "all")].iloc[0]
    text = f"Counts and the list to plant again cover the sample plots only: {whole['surveyed']} of {whole['planned']} plants. "
    low, high = field_loss(whole)
    if np.isfinite(low):
        text += (
            f"For the field that means about {(1 - whole['survival']) * whole['planned']:.0f} plants to plant again "
            f"({low:.0f} to {high:.0f}, 95 %; {whole['method']})."
        )
    else:
        text += "They are too few to say anything about the field."
    return [Finding("note", "plots", text)]


def field_loss(line: Any) -> tuple[float, float]:
    """Least and most plants dead or missing in the field, from a line of table SURVIVAL by plots."""
    return float((1 - line["high"]) * line["planned"]), float((1 - line["low"]) * line["planned"])
