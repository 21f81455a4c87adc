"""Which assumption moves the result most: one value at a time from low to high, all others likely."""

from __future__ import annotations

from typing import Any

import numpy as np

from geoagro.arrays import Floats
from geoagro.season.chance import Stakes
from geoagro.season.finance import net_present_value
from geoagro.season.records.tables import LEVERAGE
from geoagro.values.season import Range

Row = tuple[str, str, float, float]


def leverage_table(stakes: Stakes, codes: list[str], discount_rate: float) -> Any:
    """Table LEVERAGE, what moves most first; values that can't move the result are left out."""
    sales = np.asarray(net_present_value(stakes.sold_places, discount_rate), dtype=float)
    labour = float(net_present_value(stakes.labour, discount_rate))
    other = float(net_present_value(stakes.other, discount_rate))
    likely = np.array([y.likely * p.likely for y, p in zip(stakes.yields, stakes.prices, strict=True)])
    base = float(sales @ likely) - stakes.labour_range.likely * labour - other
    rows: list[Row] = []
    for k, code in enumerate(codes):
        crop_yield, price = stakes.yields[k], stakes.prices[k]
        rows.append((code, "yield", *_ends(base, sales[k] * price.likely, crop_yield)))
        rows.append((code, "price", *_ends(base, sales[k] * crop_yield.likely, price)))
    rows.append(("all work", "hours", *_ends(base, -labour, stakes.labour_range)))
    rows = [row for row in rows if row[2] != row[3]]
    rows.sort(key=lambda row: (-abs(row[3] - row[2]), row[0], row[1]))
    columns = {key: [row[k] for row in rows] for k, key in enumerate(LEVERAGE.columns[:4])}
    return LEVERAGE.frame(columns | {"swing": [abs(row[3] - row[2]) for row in rows]})


def _ends(base: float, worth: Floats | float, span: Range) -> tuple[float, float]:
    """Reckon the result with the value at its low and at its high end; `worth` is what one unit of it is worth."""
    low, high = (base + float(worth) * (end - span.likely) for end in (span.low, span.high))
    return low, high
