"""The calendar as an iCalendar file (RFC 5545) that any calendar program or phone reads."""

from __future__ import annotations

import hashlib
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path

import pandas as pd
from icalendar import Calendar, Event

from geoagro.outputs.season.chart_style import TASK_WORDS, crop_words
from geoagro.season.records.tables import SeasonPlan
from geoagro.values.base.records import Record, records
from geoagro.values.rules.bed_kinds import BED_KINDS


def write_ics(plan: SeasonPlan, path: Path) -> None:
    """Write one all-day event per task and round, and one per day of planting with what to bring."""
    path.write_bytes(season_calendar(plan).to_ical())


def season_calendar(plan: SeasonPlan) -> Calendar:
    """Build the calendar; tasks that the levelled plan never reaches are left out."""
    calendar = Calendar()
    calendar.add("prodid", "-//geoagro//season plan//EN")
    calendar.add("version", "2.0")
    calendar.add("calscale", "GREGORIAN")
    calendar.add("method", "PUBLISH")
    calendar.add("x-wr-calname", plan.name)
    for row in records(plan.calendar[plan.calendar["likely_to"].notna()]):
        calendar.add_component(_task_event(plan, row))
    for _, rows in plan.material_days.groupby("day"):
        calendar.add_component(_planting_day(plan, rows["day"].iloc[0].date(), rows))
    return calendar


def _task_event(plan: SeasonPlan, row: Record) -> Event:
    task, crop, kind, turn = row.text("task"), row.text("crop"), row.text("bed_kind"), row.whole("round")
    first, last = _date(row, "likely_from"), _date(row, "likely_to")
    number = f", round {turn}" if task in {"weed", "prune", "mulch", "cut", "fell", "replace"} else ""
    lines = [
        f"Likely {first} to {last}",
        f"Earliest {_date(row, 'earliest')}, latest {_date(row, 'latest')}",
        f"{row.number('hours'):,.1f} hours of work"
        + (f" in {row.whole('beds')} {BED_KINDS[kind].many}" if task != "nursery" else ""),
    ]
    if crop:
        lines.append(f"{row.whole('places'):,} planting points")
    if row.whole("late_days"):
        lines.append(f"Ends {row.whole('late_days')} days after the latest day: find helpers")
    if row.text("caution"):
        lines.append(f"Caution: {row.text('caution')}")
    key = f"{task}|{row.text('planting')}|{crop}|{kind}|{row.whole('cycle')}|{turn}"
    title = f"{TASK_WORDS[task]}: {_subject(row)}{number}"
    return _event(plan, key, title, lines, first=first, last=last, kind=TASK_WORDS[task])


def _date(row: Record, column: str) -> date:
    day = row.day(column)
    assert day is not None, column  # tasks without a day were left out
    return day.date()


def _subject(row: Record) -> str:
    crop, planting = row.text("crop"), row.text("planting")
    if not crop:
        return BED_KINDS[row.text("bed_kind")].many
    return crop_words(crop) + ("" if planting == crop else f" ({planting})")


def _planting_day(plan: SeasonPlan, day: date, rows: pd.DataFrame) -> Event:
    sums = rows.groupby(["crop", "material"])[["places", "total"]].sum().reset_index()
    lines = [
        f"{crop_words(r.text('crop'))}: {r.whole('total'):,} x {r.text('material')} for {r.whole('places'):,} places"
        for r in records(sums)
    ]
    beds = rows["bed"].drop_duplicates().astype(str).tolist()
    lines.append(f"Beds: {', '.join(beds)}")
    title = f"Bring to the field: {int(rows['total'].sum()):,} pieces, beds {beds[0]} to {beds[-1]}"
    return _event(plan, f"bring|{day}", title, lines, first=day, last=day, kind="Planting material")


def _event(plan: SeasonPlan, key: str, title: str, lines: list[str], *, first: date, last: date, kind: str) -> Event:
    event = Event()
    name = hashlib.sha256(f"{plan.name}|{key}".encode()).hexdigest()[:32]
    event.add("uid", f"{name}@geoagro")
    event.add(
        "dtstamp", datetime.combine(plan.start, time(), UTC)
    )  # no clock, so that the same plan gives the same file
    event.add("dtstart", first)
    event.add("dtend", last + timedelta(days=1))
    event.add("summary", title)
    event.add("description", "\n".join(lines))
    event.add("categories", [kind])
    event.add("transp", "TRANSPARENT")
    return event
