"""Which assumption moves the result most: one value at a time from low to high, all others likely."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any, NamedTuple

import numpy as np
import pandas as pd

from geoagro.arrays import Floats
from geoagro.season.chance import Stakes
from geoagro.season.crops import SeasonCrop
from geoagro.season.finance import net_present_value
from geoagro.season.records.tables import SENSITIVITY
from geoagro.values.season import Range, SeasonRule
from geoagro.values.words import CropName, Sentence, say

TOGETHER = say("all crops")
"""Subject of the rows that move all yields, or all prices, at once."""


class Lever(NamedTuple):
    """One assumption: its range, and what one unit of it is worth."""

    subject: str
    item: str
    whose: str
    span: Range
    worth: float


def sensitivity_table(stakes: Stakes, crops: Mapping[str, SeasonCrop], rule: SeasonRule) -> pd.DataFrame:
    """Table SENSITIVITY, what moves most first; values that can't move the result are left out.

    What moves all yields or all prices at once stands with them as `all crops`, as multiples of the likely values: a bad
    site or a bad market doesn't pick a crop.
    """
    levers = list(_levers(stakes, crops, rule))
    base = _base(stakes, rule)
    rows = [row for lever in levers if (row := _row(base, lever)) is not None]
    rows.sort(key=lambda row: (-row["swing"], row["subject"], row["item"]))
    return SENSITIVITY.frame({key: [row[key] for row in rows] for key in SENSITIVITY.columns})


def _base(stakes: Stakes, rule: SeasonRule) -> float:
    """Net present value with everything likely."""
    sales = np.asarray(net_present_value(stakes.sold_places, rule.discount_rate_pct / 100), dtype=float)
    likely = np.array([y.likely * p.likely for y, p in zip(stakes.yields, stakes.prices, strict=True)])
    labour, other = (
        float(net_present_value(flow, rule.discount_rate_pct / 100)) for flow in (stakes.labour, stakes.other)
    )
    return float(sales @ likely) - stakes.labour_range.likely * labour - other


def _levers(stakes: Stakes, crops: Mapping[str, SeasonCrop], rule: SeasonRule) -> Iterator[Lever]:
    sales = np.asarray(net_present_value(stakes.sold_places, rule.discount_rate_pct / 100), dtype=float)
    hours = "yours" if "labour_range" in rule.model_fields_set else "library"
    for k, (code, crop) in enumerate(crops.items()):
        crop_yield, price = stakes.yields[k], stakes.prices[k]
        yield Lever(code, "yield", crop.whose("yield"), crop_yield, sales[k] * price.likely)
        yield Lever(code, "price", "yours", price, sales[k] * crop_yield.likely)
    yield Lever(say("all work"), "hours", hours, stakes.labour_range, -_worth(stakes.labour, rule))
    whose = {crop.whose("yield") for crop, y in zip(crops.values(), stakes.yields, strict=True) if y.high > 0}
    mixed = whose.pop() if len(whose) == 1 else "both"
    yield from _together(sales, stakes.yields, stakes.prices, "yield", mixed)
    yield from _together(sales, stakes.prices, stakes.yields, "price", "yours")


def _together(sales: Floats, spans: list[Range], others: list[Range], item: str, whose: str) -> Iterator[Lever]:
    """Take every span from its low to its high end at once; the range is told as a multiple of what is likely."""
    if len(spans) < 2:
        return
    low, likely, high = (
        float(sum(s * getattr(span, end) * other.likely for s, span, other in zip(sales, spans, others, strict=True)))
        for end in ("low", "likely", "high")
    )
    if likely > 0:
        yield Lever(TOGETHER, item, whose, Range(low=low / likely, likely=1.0, high=high / likely), likely)


def _worth(flow: Floats, rule: SeasonRule) -> float:
    return float(net_present_value(flow, rule.discount_rate_pct / 100))


def _row(base: float, lever: Lever) -> dict[str, Any] | None:
    """Reckon the result with the value at its low and at its high end, and where it comes to zero."""
    span = lever.span
    low, high = (base + lever.worth * (end - span.likely) for end in (span.low, span.high))
    if low == high:
        return None
    nought = span.likely - base / lever.worth
    return {
        "subject": lever.subject,
        "item": lever.item,
        "whose": lever.whose,
        "at_low": low,
        "at_high": high,
        "swing": abs(high - low),
        "likely": span.likely,
        "zero_at": nought if nought >= 0 else np.nan,
        "turns": min(low, high) < 0 < max(low, high),
    }


def sensitivity_words(table: pd.DataFrame) -> Iterator[Sentence]:
    """Say which single assumption decides most, and which ones turn a gain into a loss by themselves."""
    single = table[table["subject"] != TOGETHER]
    if not len(single):
        return
    top = single.iloc[0]
    yield Sentence(
        "What decides most is {what}: from its low to its high end the net present value goes from {low:.0f} to {high:.0f}. Make "
        "this figure sure first.",
        what=_name(top),
        low=top["at_low"],
        high=top["at_high"],
    )
    turning = single[single["turns"].astype(bool)]
    if len(turning):
        told = tuple(
            Sentence("{what} at {x:.3g} (likely {likely:.3g})", what=_name(row), x=row["zero_at"], likely=row["likely"])
            for row in turning.head(4).to_dict("records")
        )
        yield Sentence("By itself, within its range, the sign is decided by {list}.", list=told)
    else:
        yield Sentence("No single figure decides the sign within its range.")
    for row in table[table["subject"] == TOGETHER].to_dict("records"):
        values = {"whose": Sentence(_WHOSE[row["whose"]]), "low": row["at_low"], "x": row["zero_at"]}
        yield Sentence(_TOGETHER[row["item"]], **values)
        if not np.isnan(row["zero_at"]):
            yield Sentence("It comes to zero at {x:.2f} of the likely ones.", **values)


def _name(row: Any) -> Sentence:
    told = {"whose": Sentence(_WHOSE[row["whose"]]), "crop": CropName(str(row["subject"]).replace("_", " "))}
    return Sentence(_NAMES[row["item"]], **told)


_NAMES = {
    "hours": say("all work ({whose})"),
    "yield": say("the yield of {crop} ({whose})"),
    "price": say("the price of {crop} ({whose})"),
}
_TOGETHER = {
    "yield": say("All yields at their low end together ({whose}): {low:.0f}."),
    "price": say("All prices at their low end together ({whose}): {low:.0f}."),
}
_WHOSE = {
    "yours": say("your assumption"),
    "library": say("from the library"),
    "both": say("partly yours, partly the library's"),
}
