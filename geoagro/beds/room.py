"""What the distance between rows means for beds: how many an alley carries, what is lost, and what would win it back."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
from shapely import MultiPolygon

from geoagro.arrays import Floats
from geoagro.beds.widths import Widths, row_window, working_widths
from geoagro.values.beds import AlleyRoom, BedPart, Beds
from geoagro.values.design import BedRule, RowRule
from geoagro.values.measures import Measures, Quantity
from geoagro.values.site import Finding, Level
from geoagro.values.words import Sentence, in_a_row, say

BED_SHARE = Quantity(
    "bed_share_pct",
    say("bed share"),
    "share",
    say("Area of vegetable beds over what the plantable ground would carry with rows exactly at their spacing."),
    told=True,
)
BEDS_LOST = Quantity(
    "beds_lost",
    say("beds lost in narrow alleys"),
    "m2",
    say(
        "Area of the beds that alleys between two rows lack against the number that the spacing "
        "carries; booked as path."
    ),
    told=True,
)
ALLEY_LENGTH = Quantity(
    "alley_length",
    say("alleys with {at:.0f} {at:bed|beds}"),
    "m",
    say("Length of alley between two rows that carries so many beds."),
)

_TRIAL_M = 0.05
"""Widths are tried this much smaller, to tell which would win most ground back."""
_WORTH_SHARE = 0.005
"""What wins less than this share of the beds isn't worth a word."""


def bed_measures(beds: Beds, plantable: MultiPolygon, rule: BedRule, spacing_m: float) -> Measures:
    """Measure what the alleys carry, over all zones; nothing where the spacing carries no bed."""
    parts = [part for part in _parts(beds, rule, spacing_m, plantable.area) if part.room is not None and _wanted(part)]
    if not parts:
        return Measures(())
    could = sum(part.ground_m2 * _wanted(part) * part.rule.bed_width_m / part.spacing_m for part in parts)
    exactly: dict[int, float] = {}
    for part in parts:
        assert part.room is not None
        for k, metres in enumerate(-np.diff(np.append(_lengths(part.room, _wanted(part)), 0.0))):
            exactly[k] = exactly.get(k, 0.0) + float(metres)
    return Measures(
        (
            BED_SHARE.is_(sum(part.beds_m2 for part in parts) / could),
            BEDS_LOST.is_(beds_lost_m2(beds, rule, spacing_m)),
            *(ALLEY_LENGTH.is_(metres, at=k) for k, metres in sorted(exactly.items())),
        )
    )


def _parts(beds: Beds, rule: BedRule, spacing_m: float, ground_m2: float = 0.0) -> tuple[BedPart, ...]:
    """Parts of the beds by rule; one for all where no zone has its own."""
    return beds.parts or (BedPart("", ground_m2, float(beds.beds["area_m2"].sum()), rule, spacing_m, beds.room),)


def _wanted(part: BedPart) -> int:
    return working_widths(part.rule, part.spacing_m).whole_beds(part.spacing_m)


def beds_lost_m2(beds: Beds, rule: BedRule, spacing_m: float) -> float:
    """Area of the beds that alleys between two rows lack against the number that the spacing carries."""
    return sum(_part_lost_m2(part) for part in _parts(beds, rule, spacing_m))


def _part_lost_m2(part: BedPart) -> float:
    wanted = _wanted(part)
    if wanted == 0 or part.room is None:
        return 0.0
    with_beds = _lengths(part.room, wanted)
    return float(np.sum(with_beds[0] - with_beds[1:])) * part.rule.bed_width_m


def _lengths(room: AlleyRoom, wanted: int) -> Floats:
    """Metres of alley between two rows with at least 0, 1, 2, ... `wanted` beds.

    Beds are dealt to both rows in turn, so the side of the first row tells of the 1st, 3rd, ... bed.
    """
    total = float(room.length_m.sum()) / 2
    metres = [total]
    for k in range(1, wanted + 1):
        side = room.is_first == (k % 2 == 1)
        length = room.length_m[side]
        share = float(length[room.beds[side] >= (k + 1) // 2].sum()) / max(float(length.sum()), 1e-9)
        metres.append(total * share)
    return np.minimum.accumulate(np.array(metres))


def bed_findings(beds: Beds, rule: BedRule, rows: RowRule) -> tuple[Finding, ...]:
    """Say what beds need, how far apart rows may stand, what is lost, and what would win it back; by zone."""
    found: list[Finding] = []
    for part in _parts(beds, rule, rows.spacing_m):
        own = rows.model_copy(update={"spacing_m": part.spacing_m})
        widths = working_widths(part.rule, part.spacing_m)
        said = [*_need(widths, _wanted(part), part.rule, own), *_lost(part, widths)]
        found += [replace(f, where=Sentence("beds, zone {zone}", zone=part.name)) if part.name else f for f in said]
    return (*found, *_clipped(beds))


def _need(widths: Widths, wanted: int, rule: BedRule, rows: RowRule) -> list[Finding]:
    d, x = rows.spacing_m, rows.spacing_tolerance
    found = []
    if wanted:
        window = row_window(rule, d, x)
        told = {"n": wanted, "need": window.need_m, "low": (1 - x) * d, "high": (1 + x) * d, "aim": window.aim_m}
        text = _AIMED if rows.method == "contour" else _ROOM
        found.append(Finding("note", "beds", Sentence(text, **told)))
    more = widths.need(wanted + 1)
    if wanted == 0 or more <= (1 + x) * d:
        level: Level = "warning" if wanted == 0 else "note"
        wider = {"n": wanted + 1, "need": more, "spacing": d, "enough": np.ceil(more * 20 - 1e-6) / 20}
        found.append(Finding(level, "beds", Sentence(_TIGHT if wanted else _NO_ROOM, **wider)))
    return found


_ROOM = say("Beds between two rows: {n}, which need {need:.2f} m; rows may stand {low:.2f} to {high:.2f} m apart.")
_AIMED = say(
    "Beds between two rows: {n}, which need {need:.2f} m; rows may stand {low:.2f} to {high:.2f} m apart and aim at {aim:.2f} m."
)
_NO_ROOM = say(
    "A bed between two rows needs {need:.2f} m, above the row spacing of {spacing:g} m, so hardly any alley carries one. Set "
    "rows.spacing_m to {enough:g}, or make beds or paths narrower."
)
_TIGHT = say(
    "{n} {n:bed between two rows needs|beds between two rows need} {need:.2f} m, above the row spacing "
    "of {spacing:g} m, so only wide places carry {n:it|them}. Set rows.spacing_m to {enough:g}, or make "
    "beds or paths narrower."
)


def _lost(part: BedPart, widths: Widths) -> list[Finding]:
    lost, wanted = _part_lost_m2(part), _wanted(part)
    if part.room is None or lost <= _WORTH_SHARE * part.beds_m2:
        return []
    text = Sentence(
        "Alleys lack {lost:.0f} m² of beds, being too narrow in places, ending, or leaving pieces too short.", lost=lost
    )
    best = max(_trials(part.room, widths, wanted), key=lambda trial: trial[1])
    if best[1] > _WORTH_SHARE * part.beds_m2:
        won = Sentence("{change} would win about {area:.0f} m² back.", change=best[0], area=best[1])
        return [Finding("note", "beds", in_a_row(text, won))]
    return [Finding("note", "beds", text)]


def _trials(room: AlleyRoom, widths: Widths, wanted: int) -> list[tuple[str, float]]:
    """Name what could be changed, and the area of beds that it wins, by the distances between rows."""
    step = min(_TRIAL_M, widths.narrowest / 2)

    def wins(spared: Callable[[int], float], narrower: float = 0.0) -> float:
        total = 0.0
        for k in range(1, wanted + 1):
            need = widths.need(k) - (widths.path - widths.narrowest)
            now, then = (
                float(room.length_m[room.distance_m >= n - widths.give].sum()) / 2 for n in (need, need - spared(k))
            )
            total += then * (widths.bed - narrower) - now * widths.bed
        return total

    return [
        (f"beds.path_width_m: {widths.path - step:.2f}", wins(lambda k: (k + 1) * step)),
        (f"beds.narrowest_path_m: {widths.narrowest - step:.2f} (at pinches only)", wins(lambda _: step)),
        (f"beds.bed_width_m: {widths.bed - step:.2f}", wins(lambda k: k * step, step)),
        (f"beds.tree_bed_width_m: {widths.tree - step:.2f}", wins(lambda _: step)),
    ]


def _clipped(beds: Beds) -> list[Finding]:
    """Tell of tree beds that the edge of the plantable ground cuts."""
    trees = beds.tree_beds
    missing = np.maximum((trees["length_m"] * trees["width_m"] - trees["area_m2"]).to_numpy(), 0.0)
    cut = missing > np.maximum(0.01 * trees["length_m"] * trees["width_m"], 0.05)
    if not cut.any():
        return []
    worst = trees["bed"].to_numpy()[np.argsort(-missing, kind="stable")[:3]]
    text = Sentence(
        "{count} {count:tree bed is|tree beds are} narrower in places, where the edge of the plantable "
        "ground cuts them and a path to the next bed leaves them no room to move ({missing:.0f} m²; most at "
        "{worst}). The rows stay; plants keep inside the bed.",
        count=int(cut.sum()),
        missing=missing[cut].sum(),
        worst=", ".join(worst),
    )
    return [Finding("note", "tree beds", text)]
