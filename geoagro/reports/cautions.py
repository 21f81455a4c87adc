"""What a reader must know before believing the numbers."""

from __future__ import annotations

import math
from collections.abc import Iterator

from geoagro.reports.crop_account import tree_crops
from geoagro.reports.records.account import Caution, Headline
from geoagro.reports.shares import Basis
from geoagro.values.report import LaidOut, ReportRule
from geoagro.values.words import CropName, Sentence, crop_names, say

LARGEST_DIFFERENCE = 0.0005
"""Share of the field that slivers and rounding may leave before it is worth a word (our choice)."""


def cautions(
    laid: LaidOut, rule: ReportRule, headline: Headline, *, basis: Basis, surveyed: bool
) -> tuple[Caution, ...]:
    """List the cautions that this account needs, the weightiest first."""
    return (
        *_plan_or_survey(surveyed),
        *_surveys(laid),
        *_inputs(laid),
        *_areas(laid, rule, headline),
        *_crops(laid, headline, basis),
    )


def _plan_or_survey(surveyed: bool) -> Iterator[Caution]:
    if surveyed:
        yield Caution(
            "Areas and plants are those of the layout as planned; what the last survey found stands beside them, and in the "
            "table of surveys."
        )
    else:
        yield Caution(
            "All areas and plants are those of the layout as planned. No survey of what was planted, or of what is "
            "alive, is part of this report."
        )


def _surveys(laid: LaidOut) -> Iterator[Caution]:
    """Hand on what surveys warned of, and that plots aren't the field."""
    for survey in laid.surveys:
        if survey.by_plots:
            yield Caution(
                "Survey {survey} looked at sample plots only; figures for the field are estimates.",
                {"survey": survey.day},
            )
        for text in survey.warnings:
            yield Caution("Survey {survey} warned: {warning}", {"survey": survey.day, "warning": text})


def _inputs(laid: LaidOut) -> Iterator[Caution]:
    if laid.changed:
        yield Caution(
            "The design file was changed after the layout was made (sections {sections}); the numbers are those of the "
            "layout as it was written.",
            {"sections": ", ".join(laid.changed)},
        )
    for state, words in (
        (
            "changed",
            say("Input file {file} has been changed since the layout was made; the numbers are those of the layout."),
        ),
        ("missing", say("Input file {file} is no longer there, so it could not be compared with its checksum.")),
    ):
        for file in laid.sources.loc[laid.sources["now"] == state, "value"]:
            yield Caution(words, {"file": str(file)})
    warnings = int((laid.findings["severity"] == "warning").sum())
    if warnings:
        yield Caution(
            "Reading the inputs gave {count} {count:warning; it is|warnings; they are} listed under Data sources.",
            {"count": warnings},
        )


def _areas(laid: LaidOut, rule: ReportRule, headline: Headline) -> Iterator[Caution]:
    if rule.boundary_error_m is None:
        yield Caution(
            "The design does not say how exactly the boundary was surveyed (report.boundary_error_m); the table of "
            "uncertainty shows what common ways of surveying would mean."
        )
    if math.isnan(headline.field_ground_m2):
        yield Caution("Slope is unknown on more than 5 % of the field, so sloping ground areas are left empty.")
    table = laid.area_summary.set_index("item")["area_m2"]
    difference = float(table.get("difference", 0.0))
    if abs(difference) > LARGEST_DIFFERENCE * headline.field_m2:
        yield Caution(
            "The parts of the plantable ground differ from the whole by {area:.1f} m²: strips overlap or leave slivers.",
            {"area": difference},
        )
    if headline.empty_beds_m2 > 0:
        yield Caution(
            "{area:.1f} m² of beds carry no plant and are not counted as planted.", {"area": headline.empty_beds_m2}
        )


def _crops(laid: LaidOut, headline: Headline, basis: Basis) -> Iterator[Caution]:
    if not tree_crops(laid)[1]:
        yield Caution("The habit of some crops is unknown, so all plants in tree beds are counted as trees.")
    used = sorted(laid.plants["crop"].unique())
    unknown = [laid.crops[code].name for code in used if not laid.crops[code].canopy_width_m]
    if basis == "plants" and unknown:
        yield Caution(
            "The crown's width is unknown for {crops}; beds are shared out to crops by number of plants.",
            {"crops": crop_names(unknown)},
        )
    if math.isnan(headline.canopy_cover_m2):
        yield Caution("The crown's width of some trees is unknown, so canopy at full size is left empty.")
    for code in used:
        caution = laid.crops[code].caution
        if caution:
            yield Caution("{crop}: {words}", {"crop": CropName(laid.crops[code].name), "words": Sentence.of(caution)})
