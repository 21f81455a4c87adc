"""What a careful adviser would say about water on these rows, gravest first."""

from __future__ import annotations

import math
from dataclasses import replace

from geoagro.values.rules.water import WaterRule
from geoagro.values.site import Finding
from geoagro.values.words import Sentence, in_a_row
from geoagro.water.records.tables import WaterPlan
from geoagro.water.records.words import CAUTION


def water_findings(plan: WaterPlan, rule: WaterRule | None) -> WaterPlan:
    """Add the findings to a plan."""
    told = [
        *_edge(plan),
        *_storm(plan, rule),
        *_low_points(plan, rule),
        *_ways(plan, rule),
        *_crossings(plan),
        *_machines(plan),
    ]
    return replace(plan, findings=(*told, Finding("note", "water", CAUTION)))


def _edge(plan: WaterPlan) -> list[Finding]:
    rows = plan.row_water
    beyond = int(rows["beyond"].sum())
    if beyond == 0:
        return []
    text = Sentence(
        "water may come from beyond the elevation onto {beyond} of {n} rows; their ground and volumes "
        "are the least there can be, and no verdict is given on them. Give a raster that reaches to the "
        "top of the slope.",
        beyond=beyond,
        n=len(rows),
    )
    return [Finding("warning", "inputs.elevation", text)]


def _storm(plan: WaterPlan, rule: WaterRule | None) -> list[Finding]:
    if rule is None:
        text = Sentence(
            "no storm was reckoned with, as the design has no section `water`. Say there what rows are for, "
            "and the rain and soil of your place: water: { rows: store, rain_mm: ..., soil_group: ... }."
        )
        return [Finding("note", "water", text)]
    if rule.rows == "lead":
        return []
    rows = plan.row_water
    over = rows[rows["over_m3"] > 0.01]
    if over.empty:
        text = Sentence(
            "all {n} rows hold the storm of {rain_mm:g} mm ({runoff_mm:.0f} mm run off) behind the ridge given",
            n=len(rows),
            rain_mm=rule.rain_mm,
            runoff_mm=plan.runoff_mm,
        )
        return [Finding("note", "water", text)]
    first = over.iloc[int(over["first_over_rain_mm"].fillna(float("inf")).argmin())]
    rain = first["first_over_rain_mm"]
    left = float(plan.water_balance.set_index("item")["volume_m3"]["left"])
    text = Sentence(
        "in the storm of {rain_mm:g} mm ({runoff_mm:.0f} mm run off) {n} of {all} rows {n:runs|run} over, "
        "first row {first}; {left:.0f} m³ of {caught:.0f} m³ leave the last row. Raise water.ridge.height_m, "
        "lead the water away, or take more of it up above.",
        rain_mm=rule.rain_mm,
        runoff_mm=plan.runoff_mm,
        n=len(over),
        all=len(rows),
        first=str(int(first["row"])),
        left=left,
        caught=plan.row_water["caught_m3"].sum(),
    )
    if math.isfinite(rain):
        alone = Sentence(
            "The ground of row {row} alone fills it at {rain:.0f} mm.", row=str(int(first["row"])), rain=rain
        )
        return [Finding("warning", "water.ridge", in_a_row(text, alone))]
    return [Finding("warning", "water.ridge", text)]


def _low_points(plan: WaterPlan, rule: WaterRule | None) -> list[Finding]:
    rows = plan.row_water
    count = int(rows["low_points"].sum())
    if count == 0:
        return []
    deepest = rows.iloc[int(rows["deepest_m"].argmax())]
    elsewhere = plan.low_points[(plan.low_points["depth_m"] >= 0.15) & ~plan.low_points["on_flow_line"]]
    text = Sentence(
        "{n} of {all} rows {n:has|have} {count} inner low {count:point|points} of 0.15 m or deeper, the "
        "deepest {deepest:.2f} m in row {row}; {off} of them lie off the flow lines. Water stands there, and "
        "a full furrow breaks there first.",
        n=int((rows["low_points"] > 0).sum()),
        all=len(rows),
        count=count,
        deepest=float(deepest["deepest_m"]),
        row=str(int(deepest["row"])),
        off=len(elsewhere),
    )
    return [Finding("warning" if rule is not None and rule.rows == "lead" else "note", "water", text)]


def _ways(plan: WaterPlan, rule: WaterRule | None) -> list[Finding]:
    pieces = plan.row_profile
    wrong = pieces[pieces["problem"] != ""]
    if rule is None or wrong.empty:
        return []
    worst = wrong.iloc[int(wrong["length_m"].argmax())]
    text = Sentence(
        "{n} of {all} pieces of row {n:breaks|break} a limit, e.g. row {row} from {from_m:.0f} to {to_m:.0f} "
        "m: {problem} (layer row_profile)",
        n=len(wrong),
        all=len(pieces),
        row=str(int(worst["row"])),
        from_m=worst["from_m"],
        to_m=worst["to_m"],
        problem=Sentence.of(worst["problem"]),
    )
    return [Finding("warning", "water", text)]


def _crossings(plan: WaterPlan) -> list[Finding]:
    met = plan.flow_crossings
    if len(met) == 0:
        return []
    text = Sentence(
        "{rows} {rows:row crosses|rows cross} lines of gathered flow at {n} {n:place|places}. Keep a grass "
        "strip along them (rows.break_at_drainage with rows.drainage_width_m), or see that nothing there can "
        "wash out",
        rows=met["row"].nunique(),
        n=len(met),
    )
    return [Finding("warning", "rows", text)]


def _machines(plan: WaterPlan) -> list[Finding]:
    above = plan.slope_classes[plan.slope_classes["above_limit"]]
    share, ends = float(above["share_pct"].sum()), int(above["row_ends"].sum())
    if share < 0.05:
        return []
    limit = float(above["from_pct"].min())
    text = Sentence(
        "{share:.1f} % of the row length and {ends} {ends:row end lie|row ends lie} on ground that slopes "
        "more than {limit:g} % across the row",
        share=share,
        ends=ends,
        limit=limit,
    )
    return [Finding("warning", "water.machine_slope_pct", text)]
