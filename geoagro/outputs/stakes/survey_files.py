"""Surveys kept beside the layout, one file each by its day; none is ever written over."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import isfinite
from pathlib import Path

import pandas as pd

from geoagro.outputs.drawing import looks
from geoagro.outputs.drawing.looks import Label, Line, Marker, Style
from geoagro.outputs.geopackage.layer import OutputLayer
from geoagro.outputs.geopackage.writer import write_geopackage
from geoagro.outputs.staging import staged
from geoagro.outputs.stakes.lists import write_table
from geoagro.outputs.tables.plain_text import file_stem
from geoagro.outputs.words.say import ENGLISH, Words
from geoagro.stakeout.records.accuracy import ROW_OFFSETS, Accuracy, Alignment
from geoagro.stakeout.records.as_built import (
    MARKS_ASBUILT,
    PLANTS_ASBUILT,
    REPLANT,
    REPLANT_COUNTS,
    ROWS_ASBUILT,
    ROWS_FOUND,
    AsBuilt,
)
from geoagro.values.base.doors import door
from geoagro.values.survey import (
    AREAS_ASBUILT,
    SURVEY_ABOUT,
    SURVEY_POINTS,
    SURVEY_TRACES,
    SURVIVAL,
    SurveyFile,
    numbers,
)
from geoagro.values.words import say

_STATES = {
    "alive": (say("Alive"), Marker("#1f6f5c", "#0e302f", "circle", 1.8)),
    "replaced": (say("Planted again"), Marker("#7fb8a4", "#0e302f", "diamond", 2.0)),
    "dead": (say("Dead"), Marker("#20262b", "#20262b", "cross", 2.4)),
    "missing": (say("Missing"), Marker("#ffffff", "#b3372f", "square", 2.0)),
    "not_surveyed": (say("Not surveyed"), Marker("#e6e6e6", "#b0b0b0", "circle", 1.0)),
}
_FOUND = {
    "true": (say("Found"), Marker("#20262b", "#20262b", "circle", 1.8)),
    "false": (say("Not found"), Marker("#ffffff", "#b3372f", "square", 2.4)),
}
_GONE = {state: _STATES[state] for state in ("dead", "missing")}


@door
def write_survey(built: AsBuilt, folder: Path, layout_name: str, *, words: Words = ENGLISH) -> Path:
    """Write a survey and what it says into `folder`, under its day and name, with a number if that is taken.

    >>> from datetime import date
    >>> from geoagro import built_of, example_layout, read_survey, write_survey
    >>> import tempfile
    >>> laid = example_layout()
    >>> trees = laid.plants.by_crop()["apple"]
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     file = Path(folder, "survey.csv")
    ...     _ = file.write_text(trees.assign(name=trees["plant"])[["name", "x", "y"]].to_csv(index=False))
    ...     survey = read_survey(file, laid.site, what="plants", on=date(2031, 5, 2))
    ...     asked = {"marks": None, "plants": laid.plants.frame, "plots": None, "covers": None, "within_m": None}
    ...     built = built_of(survey, laid.rows, laid.beds, crops=("apple",), **asked)
    ...     [write_survey(built, Path(folder), "example").name for _ in range(2)]  # the first one stays
    ['2031-05-02_survey.gpkg', '2031-05-02_survey_2.gpkg']
    """
    folder = Path(folder)
    stem = f"{built.survey.date.isoformat()}_{file_stem(built.survey.name)}"
    taken = {path.name for path in folder.glob("*.gpkg")} if folder.is_dir() else set()
    name = next(n for n in _names(stem) if n not in taken)
    replant = f"{Path(name).stem}_replant.csv"
    gone = built.replant if built.replant is not None and len(built.replant) else None
    with staged(folder, [name] if gone is None else [name, replant]) as new:
        layers = survey_layers(built, layout_name)
        write_geopackage(new / name, layers, built.survey.points.crs, words=words)
        if gone is not None:
            write_table(new / replant, gone.drop(columns="geometry"))
    return folder / name


def _names(stem: str) -> Iterator[str]:
    yield f"{stem}.gpkg"
    number = 2
    while True:
        yield f"{stem}_{number}.gpkg"
        number += 1


def survey_layers(built: AsBuilt, layout_name: str) -> list[OutputLayer]:
    """Layers and tables that the survey gives, lowest first."""
    found = [
        OutputLayer(SURVEY_TRACES, built.survey.traces, Style.plain(say("Trace"), Line("#8a5a1c", 0.3))),
        OutputLayer(
            ROWS_ASBUILT, built.rows, Style.plain(say("Row as surveyed"), looks.TREE_ROW, label=Label("row", looks.INK))
        ),
        OutputLayer(
            SURVEY_POINTS,
            built.survey.points,
            Style.plain(say("Surveyed"), Marker("#ffffff", "#20262b", "circle", 1.0)),
        ),
        OutputLayer(
            MARKS_ASBUILT,
            built.marks,
            Style(_FOUND, column="found", label=Label("stake", looks.INK, closest_scale=1500)),
        ),
        OutputLayer(PLANTS_ASBUILT, built.plants, Style(_STATES, column="state")),
        OutputLayer(REPLANT, built.replant, Style(_GONE, column="state")),
        OutputLayer(ROWS_FOUND, built.rows_found),
        OutputLayer(ROW_OFFSETS, built.row_offsets),
        OutputLayer(SURVIVAL, built.survival),
        OutputLayer(REPLANT_COUNTS, built.replant_counts),
        OutputLayer(AREAS_ASBUILT, built.areas),
        OutputLayer(SURVEY_ABOUT, _about(built, layout_name)),
    ]
    return [layer for layer in found if layer.frame is not None]


def _about(built: AsBuilt, layout_name: str) -> pd.DataFrame:
    lines = [
        ("date", built.survey.date.isoformat()),
        *_files(built.survey.files),
        ("surveyed_by", built.survey.by),
        ("receiver", built.survey.receiver),
        ("what", built.survey.what),
        ("covers", built.covers),
        ("layout", layout_name),
        ("matched_within_m", f"{built.within_m:.3f}"),
        *_moved(built.alignment),
        *_scatter(built.accuracy),
        ("matched_nothing", ", ".join(str(number) for number in built.extra)),
        *((finding.level, f"{finding.where}: {finding.text}") for finding in built.findings),
    ]
    return SURVEY_ABOUT.frame({"item": [k for k, _ in lines], "value": [v for _, v in lines]})


def _files(files: Sequence[SurveyFile]) -> Iterator[tuple[str, str]]:
    """Name and checksum of every file; of several the numbers of their points and traces, too."""
    points = traces = 0
    for one in files:
        yield "file", one.path
        yield "file_sha256", one.sha256
        if len(files) > 1 and one.points:
            yield "file_points", numbers(points, one.points)
        if len(files) > 1 and one.traces:
            yield "file_traces", numbers(traces, one.traces)
        points, traces = points + one.points, traces + one.traces


def _moved(found: Alignment | None) -> list[tuple[str, str]]:
    if found is None:
        return []
    one = found.similarity
    return [
        ("shift_east_m", f"{one.east_m:.3f}"),
        ("shift_north_m", f"{one.north_m:.3f}"),
        ("shift_standard_error_m", f"{one.shift_se_m:.3f}"),
        ("turn_clockwise_deg", f"{one.turn_deg:.4f}"),
        ("scale", f"{one.scale:.7f}"),
        ("median_off_m", f"{found.before_m:.3f}"),
        ("median_off_without_m", f"{found.after_m:.3f}"),
        ("shift_undone", "yes" if found.undone else "no"),
    ]


def _scatter(one: Accuracy | None) -> list[tuple[str, str]]:
    if one is None:
        return []
    told = {
        "scatter_m": one.scatter_m,
        "receiver_m": one.receiver_m,
        "receiver_drift_m": one.drift_m,
        "rows_off_m": one.rows_m,
        "plants_off_m": one.plants_m,
    }
    known = [(name, f"{value:.3f}") for name, value in told.items() if isfinite(value)]
    return [*known, ("measured_again", str(one.repeats))]
