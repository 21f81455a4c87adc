"""The calendar as an iCalendar file (RFC 5545) that any calendar program or phone reads."""

from __future__ import annotations

import hashlib
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path
from typing import Any

from icalendar import Calendar, Event

from geoagro.outputs.season.chart_style import TASK_WORDS, crop_words
from geoagro.season.records.tables import SeasonPlan

_BED_WORDS = {"tree": "tree beds", "vegetable": "vegetable beds", "edge": "edge beds"}


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
    for row in plan.calendar[plan.calendar["likely_to"].notna()].itertuples():
        calendar.add_component(_task_event(plan, row))
    for day, rows in plan.material_days.groupby("day"):
        calendar.add_component(_planting_day(plan, day.date(), rows))
    return calendar


def _task_event(plan: SeasonPlan, row: Any) -> Event:
    what = f"{TASK_WORDS[row.task]}: {_subject(row)}"
    number = f", round {row.round}" if row.task in {"weed", "prune", "mulch", "cut", "fell", "replace"} else ""
    lines = [
        f"Likely {row.likely_from.date()} to {row.likely_to.date()}",
        f"Earliest {row.earliest.date()}, latest {row.latest.date()}",
        f"{row.hours:,.1f} hours of work"
        + (f" in {row.beds} {_BED_WORDS[row.bed_kind]}" if row.task != "nursery" else ""),
    ]
    if row.crop:
        lines.append(f"{row.places:,} planting places")
    if row.late_days:
        lines.append(f"Ends {row.late_days} days after the latest day: find helpers")
    if row.caution:
        lines.append(f"Caution: {row.caution}")
    key = f"{row.task}|{row.planting}|{row.crop}|{row.bed_kind}|{row.cycle}|{row.round}"
    last = row.likely_to.date()
    return _event(plan, key, what + number, lines, first=row.likely_from.date(), last=last, kind=TASK_WORDS[row.task])


def _subject(row: Any) -> str:
    if not row.crop:
        return _BED_WORDS[row.bed_kind]
    return crop_words(row.crop) + ("" if row.planting == row.crop else f" ({row.planting})")


def _planting_day(plan: SeasonPlan, day: date, rows: Any) -> Event:
    sums = rows.groupby(["crop", "material"])[["places", "total"]].sum().reset_index()
    lines = [f"{crop_words(r.crop)}: {r.total:,} x {r.material} for {r.places:,} places" for r in sums.itertuples()]
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
