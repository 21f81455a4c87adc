"""The beds as a layer that says what happens in each of them, for a GIS viewer."""

from __future__ import annotations

import geopandas as gpd
import pandas as pd
from pyproj import CRS

from geoagro.outputs.drawing.crop_looks import crop_look
from geoagro.outputs.drawing.looks import INK, Fill, Style
from geoagro.season.records.tables import SeasonPlan
from geoagro.values.beds import Beds
from geoagro.values.layers import Field, LayerSpec
from geoagro.values.reasons import Hatch
from geoagro.values.words import CropName, Sentence, say

BED_MAP = LayerSpec(
    "season_bed_map",
    "Beds by season",
    "Polygon",
    (
        Field("bed", "text", "Bed id."),
        Field("row", "int", "Tree row that the bed is measured from."),
        Field("crops", "text", "Crops that stand there in the first year, joined by +."),
        Field("plant_from", "date", "First day of planting by the levelled plan."),
        Field("plant_to", "date", "Last day of the first planting of its beds."),
        Field("next_harvest", "date", "First day of harvest by the levelled plan."),
        Field(
            "free_from",
            "date",
            "First day from which it stands free for at least a week after planting; empty if never.",
        ),
        Field("weedings_year_1", "int", "Rounds of weeding that fall due in the first year."),
        Field("hours_year_1", "float", "Hours of work in the first year, by the wanted days.", "h"),
    ),
)


def bed_map(plan: SeasonPlan, beds: Beds, crs: CRS) -> pd.DataFrame:
    """Layer BED_MAP: every bed that the plan holds, with its dates and work."""
    outlines = pd.concat([beds.tree_beds[["bed", "geometry"]], beds.beds[["bed", "geometry"]]]).set_index("bed")[
        "geometry"
    ]
    listed = plan.bed_months[["bed", "row"]].drop_duplicates()
    year_end = pd.Timestamp(plan.start) + pd.DateOffset(years=1)
    first_year = plan.bed_tasks[plan.bed_tasks["earliest"] < year_end].groupby("bed")
    planting = plan.bed_tasks[(plan.bed_tasks["task"] == "plant") & (plan.bed_tasks["planting_no"] == 1)].groupby("bed")
    harvest = plan.bed_tasks[plan.bed_tasks["task"] == "harvest"].groupby("bed")["likely_from"].min()
    weeds = first_year["task"].agg(lambda tasks: int((tasks == "weed").sum()))
    begin = planting["likely_from"].min()
    after = plan.free_beds["free_from"] > plan.free_beds["bed"].map(begin)
    free = plan.free_beds[after].groupby("bed")["free_from"].min()
    names = listed["bed"].to_numpy()
    columns = {
        "bed": names,
        "row": listed["row"].to_numpy(),
        "crops": _crops(plan, year_end).reindex(names, fill_value="").to_numpy(),
        "plant_from": begin.reindex(names).to_numpy(),
        "plant_to": planting["likely_to"].max().reindex(names).to_numpy(),
        "next_harvest": harvest.reindex(names).to_numpy(),
        "free_from": free.reindex(names).to_numpy(),
        "weedings_year_1": weeds.reindex(names, fill_value=0).to_numpy(),
        "hours_year_1": first_year["hours"].sum().reindex(names, fill_value=0.0).to_numpy(),
    }
    return BED_MAP.frame(columns, geometry=gpd.GeoSeries(outlines.loc[names].to_numpy(), crs=crs), crs=crs)


def _crops(plan: SeasonPlan, year_end: pd.Timestamp) -> pd.Series[str]:
    tasks = plan.bed_tasks[(plan.bed_tasks["task"] == "plant") & (plan.bed_tasks["earliest"] < year_end)]
    pairs = tasks[["bed", "crop"]].drop_duplicates().sort_values(["bed", "crop"])
    return pairs.groupby("bed")["crop"].agg("+".join)


_HATCHES: tuple[Hatch, ...] = ("", "slash", "backslash", "horizontal", "vertical", "cross")


def bed_map_style(plan: SeasonPlan) -> Style:
    """One paint for each set of crops that shares a bed in the first year; white where nothing is planted."""
    year_end = pd.Timestamp(plan.start) + pd.DateOffset(years=1)
    looks = {"": (say("Free in the first year"), Fill("#ffffff", INK, outline_mm=0.1))}
    for k, crops in enumerate(sorted(_crops(plan, year_end).unique())):
        told = Sentence("{crops}", crops=tuple(CropName(plan.names.get(crop, crop)) for crop in crops.split("+")))
        paint = crop_look(k, None).paint
        looks[crops] = (told, Fill(paint, INK, outline_mm=0.1, hatch=_HATCHES[k % len(_HATCHES)], opacity=0.85))
    return Style(looks, column="crops")
