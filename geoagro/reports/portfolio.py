"""Many fields added up."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from geoagro.crs import WGS84, geodesic_area_m2, transform_geometries
from geoagro.errors import LayoutError
from geoagro.reports.records.account import Account, Caution
from geoagro.reports.records.portfolio import PORTFOLIO_CROPS, PORTFOLIO_FIELDS, Portfolio
from geoagro.values.words import say

LEAST_OVERLAP_M2 = 1.0
"""Fields that share less than this only touch (our choice)."""


def portfolio_for(accounts: Sequence[Account]) -> Portfolio:
    """Add up the accounts of many fields, in order of name.

    Raises
    ------
    LayoutError
        Without any account, or where two fields have one name.
    """
    if not accounts:
        raise LayoutError("A portfolio needs at least one field; name the design files.")
    ordered = tuple(sorted(accounts, key=lambda account: account.name))
    names = [account.name for account in ordered]
    twice = next((name for name in names if names.count(name) > 1), None)
    if twice is not None:
        raise LayoutError(f"Two fields are called '{twice}'; give each its own `name` in its design file.")
    own = ((account.name, caution) for account in ordered for caution in account.cautions)
    return Portfolio(ordered, _fields(ordered), _crops(ordered), (*_overlaps(ordered), *own))


def portfolio_from_store(fields: gpd.GeoDataFrame, crops: pd.DataFrame) -> Portfolio:
    """Take fields and crops that a store has added up: those that were laid out, in order of name.

    Parameters
    ----------
    fields
        A line per field with its outline in longitude and latitude, columns as FIELD_RESULTS.
    crops
        Columns of PORTFOLIO_CROPS.

    Raises LayoutError where no field was laid out.
    """
    laid = fields[fields["status"] == "done"].sort_values("field", ignore_index=True)
    if len(laid) == 0:
        raise LayoutError("No field of the store was laid out; fields.csv says why. Run `geoagro batch` again.")
    outlines = laid.geometry.to_numpy()
    parts = shapely.get_num_geometries(outlines)
    table = pd.DataFrame(laid.drop(columns="geometry")).assign(parts=parts, survey="", survival_pct=np.nan)
    left_out = len(fields) - len(laid)
    text = say(
        "{count} of {all} fields couldn't be laid out and {count:isn't|aren't} in these sums; fields.csv says why."
    )
    told = (("", Caution(text, {"count": left_out, "all": len(fields)})),) if left_out else ()
    return Portfolio(
        (),
        PORTFOLIO_FIELDS.frame({name: table[name] for name in PORTFOLIO_FIELDS.columns}),
        PORTFOLIO_CROPS.frame({name: crops[name] for name in PORTFOLIO_CROPS.columns}),
        (*told, *_shared_ground(outlines, laid["field"].tolist())),
        outlines,
    )


def _fields(accounts: Sequence[Account]) -> pd.DataFrame:
    table = pd.DataFrame([_line(account) for account in accounts])
    return PORTFOLIO_FIELDS.frame({name: table[name] for name in PORTFOLIO_FIELDS.columns})


def _line(account: Account) -> dict[str, Any]:
    head = account.headline
    same = ("field_m2", "field_geodesic_m2", "plantable_m2", "planted_m2", "trees", "plants", "crops", "rows")
    day, survival = _last_survey(account)
    return {
        "field": account.name,
        "parts": len(account.parts),
        **{name: getattr(head, name) for name in (*same, "row_length_m", "trees_per_ha_planted")},
        "survey": day,
        "survival_pct": survival,
        "crs": account.crs_name,
    }


def _last_survey(account: Account) -> tuple[str, float]:
    whole = account.survival[account.survival["crop"] == "all"]
    return (str(whole["survey"].iloc[-1]), float(whole["survival_pct"].iloc[-1])) if len(whole) else ("", np.nan)


def _crops(accounts: Sequence[Account]) -> Any:
    table = pd.concat([account.crops for account in accounts], ignore_index=True)
    sums = (
        table.groupby("crop")
        .agg(
            name=("name", "first"),
            habit=("habit", "first"),
            fields=("crop", "size"),
            plants=("plants", "sum"),
            share_area_m2=("share_area_m2", "sum"),
        )
        .reset_index()
    )
    sums["share_area_m2"] = sums["share_area_m2"].round(1)
    sums = sums.sort_values(["share_area_m2", "crop"], ascending=[False, True], ignore_index=True)
    return PORTFOLIO_CROPS.frame({name: sums[name] for name in PORTFOLIO_CROPS.columns})


def _overlaps(accounts: Sequence[Account]) -> Iterator[tuple[str, Caution]]:
    """Name pairs of fields that share ground, since it is counted twice."""
    outlines = np.array(
        [
            shapely.union_all(transform_geometries(account.parts.geometry.to_numpy(), account.parts.crs, WGS84))
            for account in accounts
        ],
        dtype=object,
    )
    yield from _shared_ground(outlines, [account.name for account in accounts])


def _shared_ground(outlines: Any, names: Sequence[str]) -> Iterator[tuple[str, Caution]]:
    outlines = shapely.make_valid(outlines)  # rounding to another CRS, or a store of other hands, may cross an outline
    for first, second in zip(*shapely.STRtree(outlines).query(outlines, predicate="intersects"), strict=True):
        shared = shapely.intersection(outlines[first], outlines[second]) if first < second else None
        if shared is None or shared.area == 0:
            continue
        area = geodesic_area_m2(_polygons(shared), WGS84)
        if area >= LEAST_OVERLAP_M2:
            text = say("Fields {first} and {second} share {area:.1f} m² of ground, which is counted twice.")
            yield "", Caution(text, {"first": names[first], "second": names[second], "area": area})


def _polygons(shape: Any) -> Any:
    parts = shapely.get_parts(shape)
    return shapely.multipolygons(parts[shapely.get_type_id(parts) == shapely.GeometryType.POLYGON])
