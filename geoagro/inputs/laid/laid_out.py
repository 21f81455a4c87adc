"""A written layout as the reports take it: its layers and tables, its sources as they are now, and its surveys."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pandas as pd
import pyogrio

from geoagro.errors import InputError
from geoagro.inputs.files import reading, sha256_of
from geoagro.inputs.laid.evidence import read_evidence
from geoagro.inputs.laid.layout_file import LayoutFile
from geoagro.inputs.laid.own_table import own_table
from geoagro.inputs.laid.water_file import read_water
from geoagro.inputs.local_only import check_vector
from geoagro.values.design import Design
from geoagro.values.layout import LAYOUT_QUALITY
from geoagro.values.report import SOURCES, CropFacts, LaidOut, SurveyCounts
from geoagro.values.survey import AREAS_ASBUILT, SURVEY_ABOUT, SURVEY_POINTS, SURVIVAL
from geoagro.values.words import say

SURVEYS = "surveys"
_TEXTS = {
    "design": say("every value in force; kept in layout.gpkg"),
    "design_file": say("as written; kept in layout.gpkg"),
}


def read_laid_out(file: LayoutFile, crops: Mapping[str, CropFacts], *, design: Design) -> LaidOut:
    """Read all that a report needs of an approved layout.

    Parameters
    ----------
    crops
        What is known of the crops, by code.
    design
        The design file as it is now; input files are looked for beside it, and what has changed in it is told.

    Raises
    ------
    InputError
        If the layout lacks a layer or table.

    >>> from pathlib import Path
    >>> from geoagro import crop_facts, example_layout, read_crop_library, read_laid_out, read_layout_file, write_layout
    >>> import tempfile
    >>> laid, library = example_layout(), read_crop_library()
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     file = read_layout_file(write_layout(laid, Path(folder))[0])
    ...     print(read_laid_out(file, crop_facts(laid.design, library), design=laid.design).name)
    Example field
    """
    beds, site = file.beds(), file.site()
    plants = file.plant_table()
    return LaidOut(
        name=site.name,
        crs=file.crs,
        boundary=site.boundary,
        tree_rows=file.rows().frame,
        tree_beds=beds.tree_beds,
        beds=beds.beds,
        paths=beds.paths,
        unplanted=file.frame("unplanted"),
        exclusions=file.frame("exclusions"),
        contours=file.frame("contours"),
        plants=plants,
        area_summary=_texts_filled(file.frame("area_summary")),
        quality=_texts_filled(file.frame(LAYOUT_QUALITY.name).reindex(columns=LAYOUT_QUALITY.columns)),
        sources=_sources(file, design.folder),
        findings=_texts_filled(file.frame("layout_findings")),
        crops=_with_unknown(crops, plants),
        spacing_m=file.design.rows.spacing_m,
        surveys=read_survey_counts(file.path.parent / SURVEYS),
        changed=tuple(file.differs_from(design)),
        water=read_water(file, design.water),
        zones=file.zones(),
        evidence=read_evidence(design, boundary=file.design.inputs.boundary, crs=file.crs, surveys=surveys_in(file)),
        start=file.design.start_date,
    )


def surveys_in(file: LayoutFile) -> list[Path]:
    """Files of the surveys beside a layout, in order of day and name."""
    return sorted((file.path.parent / SURVEYS).glob("*.gpkg"))


def _texts_filled(table: Any) -> Any:
    texts = table.select_dtypes(include=["object", "string"]).columns
    return table.assign(**{name: table[name].fillna("").astype(object) for name in texts})


def _with_unknown(crops: Mapping[str, CropFacts], plants: pd.DataFrame) -> dict[str, CropFacts]:
    """Add crops of the layout that neither design nor library knows any more, by their code alone."""
    return {code: CropFacts(code.replace("_", " ")) for code in sorted(plants["crop"].unique())} | dict(crops)


def _sources(file: LayoutFile, folder: Path) -> pd.DataFrame:
    """Table SOURCES: texts by their checksum only, files compared with what they are now."""
    table = _texts_filled(file.frame("layout_source"))
    known = {source.path for source in file.sources}
    rows = [
        (_TEXTS.get(item, value), sha, _state(folder / value, sha) if value in known else "")
        for item, value, sha in table[["item", "value", "sha256"]].itertuples(index=False)
    ]
    values, sums, now = (list(column) for column in zip(*rows, strict=True))
    return SOURCES.frame({"item": table["item"], "value": values, "sha256": sums, "now": now})


def _state(path: Path, sha256: str) -> str:
    if not path.is_file():
        return "missing"
    return "unchanged" if sha256_of(path) == sha256 else "changed"


def read_survey_counts(folder: Path) -> tuple[SurveyCounts, ...]:
    """Read the counts and areas of the surveys that `geoagro survey` wrote, in order of day and name."""
    found = []
    for path in sorted(folder.glob("*.gpkg")):
        check_vector(path, where=str(path))
        with reading(str(path)):
            found.append(_survey(path))
    return tuple(survey for survey in found if survey)


def _survey(path: Path) -> SurveyCounts | None:
    layers = {str(name) for name, _ in pyogrio.list_layers(path)}
    if SURVEY_ABOUT.name not in layers:
        return None
    about = own_table(path, SURVEY_ABOUT.name)
    told = dict(zip(about["item"], about["value"].fillna("").astype(str), strict=True))
    return SurveyCounts(
        day=path.stem.replace("_", " "),
        survival=_counts(path, layers),
        areas=_optional(path, AREAS_ASBUILT.name, layers),
        warnings=tuple(about.loc[about["item"] == "warning", "value"].astype(str)),
        by_plots=told.get("covers") == "plots",
        what=told.get("what", ""),
        by=told.get("surveyed_by", ""),
        receiver=told.get("receiver", ""),
        receiver_m=float(told.get("receiver_m", "nan")),
        stems=_stems(_optional(path, SURVEY_POINTS.name, layers)),
    )


def _counts(path: Path, layers: set[str]) -> pd.DataFrame | None:
    """Table of survival; one that an earlier version wrote, in shares, is refused."""
    table = _optional(path, SURVIVAL.name, layers)
    if table is not None and "survival" in table:
        raise InputError(
            f"{path}: is from an earlier version: column survival is now survival_pct. Read the survey in again with "
            "`geoagro survey`, and move this file away."
        )
    return table


def _stems(points: Any | None) -> pd.DataFrame | None:
    """Points of a survey whose stem was measured."""
    if points is None or "dbh_cm" not in points or not points["dbh_cm"].notna().any():
        return None
    chosen = points.loc[points["dbh_cm"].notna(), ["name", "crop", "dbh_cm", "tree_height_m"]]
    return pd.DataFrame(_texts_filled(chosen)).reset_index(drop=True)


def _optional(path: Path, name: str, layers: set[str]) -> Any | None:
    if name not in layers:
        return None
    table: pd.DataFrame = own_table(path, name)
    return table
