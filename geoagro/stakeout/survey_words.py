"""What a survey says, in sentences: its receiver, rows off their place, points that match nothing, plots."""

from __future__ import annotations

from typing import Any

import numpy as np

from geoagro.stakeout.matching import Pairs, plain_name
from geoagro.stakeout.records.accuracy import Accuracy
from geoagro.stakeout.registering import MOST_NAMED, listed
from geoagro.values.site import Finding
from geoagro.values.words import Sentence, in_a_row, say

__all__ = ["accuracy", "extra", "listed", "missing_rows", "plots_only", "rows_off"]

_COARSE = 3.0  # standard deviations that a point must lie within to be matched by place


def accuracy(one: Accuracy, by_names: bool, within_m: float) -> list[Finding]:
    """Say what the receiver scatters, and what is left to planting."""
    if not np.isfinite(one.scatter_m):
        return []
    if one.repeats:
        text = Sentence(
            "Single points scatter by {scatter_m:.2f} m (standard deviation each way). The receiver's own part "
            "is {receiver_m:.2f} m, from {repeats} {repeats:point|points} measured again; {plants_m:.2f} m is "
            "left to single plants or stakes.",
            scatter_m=one.scatter_m,
            receiver_m=one.receiver_m,
            repeats=one.repeats,
            plants_m=one.plants_m,
        )
    else:
        text = Sentence(
            "Single points scatter by {scatter_m:.2f} m (standard deviation each way): the receiver's error "
            "is at most that, and so is that of single plants or stakes. Measuring some points again would "
            "tell them apart.",
            scatter_m=one.scatter_m,
        )
    if np.isfinite(one.drift_m):
        whole = Sentence(
            "Whole rows: the receiver drifts by {drift:.2f} m, planting puts them off by {rows:.2f} m.",
            drift=one.drift_m, rows=one.rows_m,
        )  # fmt: skip
        found = [Finding("note", "receiver", in_a_row(text, whole))]
    else:
        found = [Finding("note", "receiver", text)]
    if not by_names and _COARSE * one.scatter_m > within_m:
        text = Sentence(
            "Points without a known name are matched within {within_m:.2f} m, little for a scatter of "
            "{scatter_m:.2f} m: some are matched to a neighbour, and counts by place are rough. Record names "
            "(numbers).",
            within_m=within_m,
            scatter_m=one.scatter_m,
        )
        found.append(Finding("warning", "receiver", text))
    return found


def rows_off(offsets: Any) -> list[Finding]:
    """Name rows off their place with side and distance, the farthest first."""
    off = offsets[offsets["off_place"].astype(bool)]
    if len(off) == 0:
        return []
    off = off.iloc[np.argsort(-off["across_m"].abs().to_numpy(), kind="stable")]
    parts = tuple(
        Sentence(_UPSLOPE if across > 0 else _DOWNSLOPE, row=str(row), away=abs(across))
        for row, across in zip(off["row"][:MOST_NAMED], off["across_m"], strict=False)
    )
    told = {"n": len(off), "parts": parts}
    return [Finding("warning", "rows", Sentence(_FARTHEST if len(off) > MOST_NAMED else _ALL_OFF, **told))]


_UPSLOPE = say("row {row} stands {away:.2f} m upslope")
_DOWNSLOPE = say("row {row} stands {away:.2f} m downslope")
_ALL_OFF = say("{n} {n:row off its place|rows off their place}: {parts}.")
_FARTHEST = say("{n} {n:row off its place|rows off their place}, the farthest: {parts}.")


def extra(points: Any, at: Any, what: str) -> list[Finding]:
    """Name the points that match nothing."""
    if len(at) == 0:
        return []
    names = [
        str(name) if name else f"#{number}"
        for name, number in zip(points["name"].iloc[at], points["point"].iloc[at], strict=True)
    ]
    return [
        Finding(
            "warning",
            "points",
            Sentence(
                "{n} {n:surveyed point matches|surveyed points match} no {what} of the design: {names}.",
                n=len(at),
                what=Sentence.of(what),
                names=listed(names),
            ),
        )
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
    text = Sentence(
        "{n} {n:point bears a name that no plant has, and was|points bear a name that no plant has, and "
        "were} taken for the nearest free plant: {strange}. Give {n:it|them} that plant's number, or leave "
        "{n:it|them} out.",
        n=len(strange),
        strange=listed(strange),
    )
    return [Finding("warning", "points", text)]


def missing_rows(found: Any) -> list[Finding]:
    """Name rows that the survey doesn't have."""
    missing = found.loc[found["state"] == "missing", "row"].tolist()
    if not missing:
        return []
    return [
        Finding(
            "warning",
            "rows",
            Sentence("{n} {n:row|rows} missing in the survey: {missing}.", n=len(missing), missing=listed(missing)),
        )
    ]


def plots_only(survival: Any, by_plots: bool) -> list[Finding]:
    """Say that plots are plots, and what they say of the field."""
    if not by_plots:
        return []
    whole = survival[(survival["row"] == 0) & (survival["crop"] == "all")].iloc[0]
    text = Sentence(
        "Counts and the list to plant again cover the sample plots only: {surveyed} of {planned} plants.",
        surveyed=int(whole["surveyed"]),
        planned=int(whole["planned"]),
    )
    low, high = field_loss(whole)
    of_field = Sentence("They are too few to say anything about the field.")
    if np.isfinite(low):
        of_field = Sentence(
            "For the field that means about {n:.0f} {n:plant to|plants to} plant again ({low:.0f} to {high:.0f}, "
            "95 %; {method}).",
            n=int((1 - whole["survival_pct"] / 100) * whole["planned"] + 0.5), low=low, high=high, method=Sentence.of(str(whole["method"])),
        )  # fmt: skip
    return [Finding("note", "plots", in_a_row(text, of_field))]


def field_loss(line: Any) -> tuple[float, float]:
    """Least and most plants dead or missing in the field, from a line of table SURVIVAL by plots."""
    least, most = (float((1 - line[end] / 100) * line["planned"]) for end in ("high_pct", "low_pct"))
    return least, most
