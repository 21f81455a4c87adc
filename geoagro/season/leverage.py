"""Which assumption moves the result most: one value at a time from low to high, all others likely."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pandas as pd

from geoagro.arrays import Floats
from geoagro.season.chance import Stakes
from geoagro.season.crops import SeasonCrop
from geoagro.season.finance import net_present_value
from geoagro.season.records.tables import LEVERAGE
from geoagro.values.season import Range, SeasonRule

Row = tuple[str, str, str, float, float]


def leverage_table(stakes: Stakes, crops: Mapping[str, SeasonCrop], rule: SeasonRule) -> pd.DataFrame:
    """Table LEVERAGE, what moves most first; values that can't move the result are left out."""
    discount_rate = rule.discount_rate
    sales = np.asarray(net_present_value(stakes.sold_places, discount_rate), dtype=float)
    labour = float(net_present_value(stakes.labour, discount_rate))
    other = float(net_present_value(stakes.other, discount_rate))
    likely = np.array([y.likely * p.likely for y, p in zip(stakes.yields, stakes.prices, strict=True)])
    base = float(sales @ likely) - stakes.labour_range.likely * labour - other
    rows: list[Row] = []
    for k, (code, crop) in enumerate(crops.items()):
        crop_yield, price = stakes.yields[k], stakes.prices[k]
        rows.append((code, "yield", crop.whose("yield"), *_ends(base, sales[k] * price.likely, crop_yield)))
        rows.append((code, "price", "yours", *_ends(base, sales[k] * crop_yield.likely, price)))
    rows.append(
        (
            "all work",
            "hours",
            "yours" if "labour_range" in rule.model_fields_set else "library",
            *_ends(base, -labour, stakes.labour_range),
        )
    )
    rows = [row for row in rows if row[3] != row[4]]
    rows.sort(key=lambda row: (-abs(row[4] - row[3]), row[0], row[1]))
    columns = {key: [row[k] for row in rows] for k, key in enumerate(LEVERAGE.columns[:5])}
    return LEVERAGE.frame(columns | {"swing": [abs(row[4] - row[3]) for row in rows]})


def _ends(base: float, worth: Floats | float, span: Range) -> tuple[float, float]:
    """Reckon the result with the value at its low and at its high end; `worth` is what one unit of it is worth."""
    low, high = (base + float(worth) * (end - span.likely) for end in (span.low, span.high))
    return low, high
