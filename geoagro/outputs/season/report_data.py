"""The words and numbers of the season report, written from the tables of the plan."""

from __future__ import annotations

import math
from typing import Any

import pandas as pd

from geoagro.outputs.season import report_tables as tables
from geoagro.outputs.season.names import LEVELS, Names
from geoagro.outputs.season.report_money import money_tables
from geoagro.outputs.season.report_words import template_words
from geoagro.outputs.words.say import ENGLISH, Words
from geoagro.season.records.figures import Key
from geoagro.season.records.tables import SeasonPlan
from geoagro.values.base.records import Record, records
from geoagro.values.words import say

_MOST_WARNINGS = 12
"""Warnings of the plan on the first page; what can hurt people is never left out for them."""


def report_data(plan: SeasonPlan, words: Words = ENGLISH) -> dict[str, Any]:
    """Everything that the template prints, as text."""
    names = Names(plan, words)
    findings = plan.findings
    told_all = findings["severity"].isin(["caution", "note"])
    shown = pd.concat([findings[~told_all].head(_MOST_WARNINGS), findings[told_all]])
    hidden = len(findings) - len(shown)
    return {
        "title": plan.name,
        "subtitle": words(
            say("Crop and work plan from {day} over {years} {years:year|years}"), day=plan.start, years=plan.rule.years
        ),
        "language": words.locale.language,
        "region": words.locale.territory,
        "words": template_words(words, plan.rule.currency),
        "page_words": words(say("page {page} of {pages}"), page="\0", pages="\0").split("\0"),
        "tiles": _tiles(names),
        "findings": [_finding(row, names) for row in records(shown)],
        "more_findings": words(say("More findings in table season_findings: {n}."), n=hidden) if hidden else "",
        "calendar_note": words(
            say("Later plantings, rounds and years are in table season_calendar and in the calendar file.")
        ),
        **tables.work_tables(names),
        **money_tables(names),
    }


def _tiles(names: Names) -> list[dict[str, str]]:
    plan, words = names.plan, names.words
    planting = plan.calendar[(plan.calendar["task"] == "plant") & (plan.calendar["planting_no"] == 1)]
    span = words.days(planting["likely_from"].min(), planting["likely_to"].max())

    def read(key: Key) -> str:
        return words(plan.reading(key))

    tiles = [
        (say("Planting points"), read(Key.PLACES), words(say("repeats included"))),
        (say("Planting"), span, words(say("first planting, {people}"), people=read(Key.PEOPLE))),
        (
            say("Work in the first year"),
            read(Key.FIRST_YEAR_WORK),
            words(say("busiest week of the whole plan: {week}"), week=read(Key.BUSIEST_WEEK)),
        ),
        (
            say("Harvest, likely"),
            read(Key.HARVEST),
            words(say("{low} to {high}, all years"), low=read(Key.HARVEST_LOW), high=read(Key.HARVEST_HIGH)),
        ),
        (
            say("Breaks even, likely"),
            read(Key.BREAK_EVEN),
            _median_break_even(names),
        ),
        (
            say("Net present value, likely"),
            read(Key.WORTH),
            words(
                say("a loss in {share}; yields, prices and hours are drawn, nothing else"),
                share=read(Key.RUNS_WITH_LOSS),
            ),
        ),
    ]
    return [{"name": words(name), "value": value, "note": note} for name, value, note in tiles]


def _median_break_even(names: Names) -> str:
    """Say by when half of the runs break even, or that they don't, each as a whole sentence."""
    if math.isnan(names.plan.figure(Key.BREAK_EVEN_MEDIAN)):
        return names.words(say("at least half of the runs don't within the plan"))
    month = names.words(names.plan.reading(Key.BREAK_EVEN_MEDIAN))
    return names.words(say("half of the runs by {month}"), month=month)


def _finding(row: Record, names: Names) -> dict[str, str]:
    level = row.text("severity")
    return {
        "level": level,
        "about": names.words(
            say("{level}: {about}."), level=names.words(LEVELS[level]), about=names.subject(level, row.text("subject"))
        ),
        "text": names.words(row.text("text")),
    }
