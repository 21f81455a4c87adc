"""The tables of an account as rows of plain values, and how many decimals each column has in every file."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import pandas as pd

from geoagro.reports.records.account import (
    AREAS,
    BED_CROPS,
    BUILT,
    CROPS,
    FOUND,
    PARTS,
    ROWS,
    STRATA,
    SURVIVAL,
    UNCERTAINTY,
    ZONE_CROP_ACCOUNT,
    ZONE_GROUND,
    Account,
)
from geoagro.reports.records.claim import (
    BY_YEAR,
    CONDITIONS,
    ELIGIBLE,
    INDICATORS,
    PARCELS,
    SPECIES,
    SURVEYED,
)
from geoagro.reports.records.portfolio import PORTFOLIO_CROPS, PORTFOLIO_FIELDS
from geoagro.values.layers import Field, LayerSpec
from geoagro.values.layout import LAYOUT_QUALITY, ROW_SUMMARY
from geoagro.values.report import SOURCES
from geoagro.values.results.evidence import PHOTOS

_DECIMALS = {"m2": 1, "m": 1, "1/ha": 1, "%": 2}
_FINER = {
    "sd_pct": 3, "lon": 7, "lat": 7, "bearing_deg": 0, "year": 1, "standing_now": 0, "error_m": 3, "canopy_pct": 1,
}  # fmt: skip
_ADDED_UP = (
    "plants",
    "trees",
    "beds",
    "share_area_m2",
    "length_m",
    "planned",
    "parts",
    "field_m2",
    "field_geodesic_m2",
    "plantable_m2",
    "planted_m2",
    "row_length_m",
    "rows",
    "eligible_m2",
    "not_eligible_m2",
)
_ADDED_UP_HERE = {
    "account_rows": {"bed_area_m2"},
    "account_zones": {"area_m2", "tree_beds_m2", "vegetable_beds_m2", "paths_m2", "other_m2", "all_plantings"},
    "account_zone_crops": {"all_plantings"},
    "account_parcels": {"area_m2", "geodesic_area_m2"},
    "account_eligible": {"area_m2", "geodesic_area_m2"},
}
_NEVER_ADDED = {
    "account_crops": {"beds", "rows"},
    "account_zones": {"rows"},
    "account_beds": set(),
    "account_survival": {"planned"},
    "account_by_year": {"trees"},
}

FINDINGS = LayerSpec(
    "account_findings",
    "What was found while reading",
    "none",
    (
        Field("severity", "text", "note, repair or warning."),
        Field("about", "text", "File, key or place that it is about."),
        Field("finding", "text", "What was found, and what was done or is to be done about it."),
    ),
)


WORKBOOK_TABLES = (
    SOURCES, PARTS, AREAS, CROPS, STRATA, ROWS, BED_CROPS, ZONE_GROUND, ZONE_CROP_ACCOUNT, UNCERTAINTY, SURVIVAL, BUILT, FOUND,
    PARCELS, ELIGIBLE, CONDITIONS, SPECIES, BY_YEAR, PHOTOS, SURVEYED, INDICATORS, ROW_SUMMARY, LAYOUT_QUALITY, FINDINGS,
    PORTFOLIO_FIELDS, PORTFOLIO_CROPS,
)  # fmt: skip
"""Tables that workbooks of accounts hold."""


@dataclass(frozen=True, eq=False)
class Table:
    """A table ready to be written: its declaration and its rows of str, int, float or None."""

    spec: LayerSpec
    rows: tuple[tuple[Any, ...], ...]

    @property
    def title(self) -> str:
        """Title for people."""
        return self.spec.title

    def decimals(self, field: Field) -> int:
        """Decimals that a number of this column is written with."""
        if field.kind == "int":
            return 0
        return _FINER.get(field.name, _DECIMALS.get(field.unit, 3))

    def added_up(self, field: Field) -> bool:
        """Tell whether the column's sum is a figure of its own (counts, shares, lengths), not a double count."""
        own = _ADDED_UP_HERE.get(self.spec.name, set())
        summed = field.name in _ADDED_UP or field.name in own
        return summed and field.name not in _NEVER_ADDED.get(self.spec.name, set())

    def total(self, field: Field) -> int | float:
        """Sum of a column, rounded as its values are."""
        column = [row[self.spec.fields.index(field)] for row in self.rows]
        total: float = sum(value for value in column if value is not None)
        return int(total) if field.kind == "int" else round(total, self.decimals(field))


def account_tables(account: Account) -> list[Table]:
    """All tables in the order of the report."""
    frames = {
        **account.tables,
        PARTS: account.parts,
        ROW_SUMMARY: account.row_crops,
        LAYOUT_QUALITY: account.quality,
        FINDINGS: account.findings,
    }
    return [table(spec, frame) for spec, frame in frames.items()]


def table(spec: LayerSpec, frame: pd.DataFrame) -> Table:
    """Turn a frame into plain rows; what is empty or not a number becomes None."""
    columns = [list(_plain(frame[field.name], field)) for field in spec.fields]
    return Table(spec, tuple(zip(*columns, strict=True)))


def _plain(column: Any, field: Field) -> Iterator[Any]:
    for value in column:
        if value is None or pd.isna(value) or (isinstance(value, float) and not math.isfinite(value)):
            yield None
        elif field.kind == "int":
            yield int(value)
        elif field.kind == "float":
            yield float(value)
        else:
            yield str(value)
