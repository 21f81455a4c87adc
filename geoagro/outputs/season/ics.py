"""The calendar as an iCalendar file (RFC 5545) that any calendar program or phone reads."""

from __future__ import annotations

import hashlib
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

import pandas as pd
from icalendar import Calendar, Component, Event

from geoagro.errors import OutputError
from geoagro.outputs.season.names import Names
from geoagro.outputs.words.say import ENGLISH, Words
from geoagro.season.records.tables import SeasonPlan
from geoagro.values.base.records import Record, records
from geoagro.values.words import say

Key = tuple[str, str, str, str, int, int]
_FIRST = datetime(2000, 1, 1, tzinfo=UTC)
"""Stamp of a plan's first calendar; each later one is a minute on. No clock, so that the same plan gives the same file."""
_ROUNDS = {"weed", "prune", "mulch", "cut", "fell", "replace"}


def write_ics(plan: SeasonPlan, path: Path, earlier: Path | None = None, words: Words = ENGLISH) -> None:
    """Write one all-day event per run of days of a task, and one per day of planting with what to bring.

    `earlier` is the calendar file that this one follows: events keep their UID, changed ones are stamped anew with a higher
    SEQUENCE, so that calendar programs replace what they hold, and those that are gone are cancelled.
    """
    before = earlier.read_bytes() if earlier is not None and earlier.is_file() else None
    path.write_bytes(following(season_calendar(plan, words), before).to_ical())


def season_calendar(plan: SeasonPlan, words: Words = ENGLISH) -> Calendar:
    """Build the calendar; tasks that the levelled plan never reaches are left out."""
    names = Names(plan, words)
    calendar = Calendar()
    calendar.add("prodid", f"-//geoagro//season plan//{words.locale.language.upper()}")
    calendar.add("version", "2.0")
    calendar.add("calscale", "GREGORIAN")
    calendar.add("method", "PUBLISH")
    calendar.add("x-wr-calname", plan.name)
    tasks = {_key(row): row for row in records(plan.calendar)}
    for spell in records(plan.spells):
        calendar.add_component(_task_event(names, tasks[_key(spell)], spell))
    for _, rows in plan.material_days.groupby("day"):
        calendar.add_component(_planting_day(names, rows["day"].iloc[0].date(), rows))
    return calendar


def following(calendar: Calendar, before: bytes | None) -> Calendar:
    """Give a calendar's events the numbers and stamps of successors of an earlier calendar file.

    Raises OutputError where the earlier file is no calendar.
    """
    old = {} if before is None else _events_of(before)
    revision = 1 + max((int(event.get("sequence", 0)) for event in old.values()), default=-1)
    new = _by_uid(calendar)
    for uid, event in new.items():
        same = uid in old and _said(old[uid]) == _said(event)
        _stamp(event, int(old[uid].get("sequence", 0)) if same else revision)
    for uid, event in old.items():
        if uid not in new:
            gone = event.get("status") == "CANCELLED"
            calendar.add_component(event if gone else _cancelled(event, revision))
    return calendar


def _events_of(file: bytes) -> dict[str, Event]:
    try:
        return _by_uid(Calendar.from_ical(file))
    except (ValueError, KeyError, IndexError) as error:
        raise OutputError(
            f"The calendar file that stands there can't be read ({error}), so events that changed can't be told. Move it away, "
            "and the calendar begins anew."
        ) from error


def _by_uid(calendar: Component) -> dict[str, Event]:
    return {str(event["uid"]): event for event in calendar.walk("VEVENT") if isinstance(event, Event)}


def _said(event: Event) -> tuple[Any, ...]:
    """Give what a reader sees of an event: two that say the same needn't be replaced."""
    texts = tuple(str(event.get(name, "")) for name in ("summary", "description", "status"))
    return (event.start, event.end, *texts)


def _stamp(event: Event, revision: int) -> None:
    for name in ("dtstamp", "last-modified", "sequence"):
        event.pop(name, None)
    event.add("sequence", revision)
    for name in ("dtstamp", "last-modified"):
        event.add(name, _FIRST + timedelta(minutes=revision))


def _cancelled(event: Event, revision: int) -> Event:
    event.pop("status", None)
    event.add("status", "CANCELLED")
    _stamp(event, revision)
    return event


def _key(row: Record) -> Key:
    texts = (row.text("task"), row.text("planting"), row.text("crop"), row.text("bed_kind"))
    return (*texts, row.whole("planting_no"), row.whole("round"))


def _task_event(names: Names, row: Record, spell: Record) -> Event:
    task, crop, kind, turn = row.text("task"), row.text("crop"), row.text("bed_kind"), row.whole("round")
    first, last, part = _date(spell, "first"), _date(spell, "last"), spell.whole("spell")
    words = names.words
    title = words(
        say("{task}: {what}, round {n}") if task in _ROUNDS else say("{task}: {what}"),
        task=names.task(task), what=_subject(row, names), n=str(turn),
    )  # fmt: skip
    key = f"{task}|{row.text('planting')}|{crop}|{kind}|{row.whole('planting_no')}|{turn}|{part}"
    return _event(names, key, title, _lines(row, spell, names), first=first, last=last, kind=names.task(task))


def _lines(row: Record, spell: Record, names: Names) -> list[str]:
    words, late, hours = names.words, row.whole("late_days"), (spell.number("hours"), row.number("hours"))
    if row.text("task") == "nursery" or not row.text("bed_kind"):
        work = words(say("{part:.1f} of {whole:.1f} hours of work"), part=hours[0], whole=hours[1])
    else:
        work = words(
            say("{part:.1f} of {whole:.1f} hours of work; {kind}: {n}"),
            part=hours[0], whole=hours[1], kind=names.beds(row.text("bed_kind")), n=row.whole("beds"),
        )  # fmt: skip
    lines = [
        work,
        words(say("Earliest {first}, latest {last}"), first=_date(row, "earliest"), last=_date(row, "latest")),
    ]
    if row.text("crop"):
        lines.append(words(say("Planting points: {n}"), n=row.whole("places")))
    if late:
        lines.append(words(say("Days after the latest day at the end: {n}. Find helpers."), n=late))
    if row.text("caution"):
        lines.append(words(say("Caution: {text}"), text=words(row.text("caution"))))
    return lines


def _date(row: Record, column: str) -> date:
    day = row.day(column)
    assert day is not None, column  # tasks without a day were left out
    return day.date()


def _subject(row: Record, names: Names) -> str:
    crop, planting = row.text("crop"), row.text("planting")
    return names.planting(crop, planting) if crop else names.beds(row.text("bed_kind"))


def _planting_day(names: Names, day: date, rows: pd.DataFrame) -> Event:
    words = names.words
    sums = rows.groupby(["crop", "material"])[["places", "total"]].sum().reset_index()
    lines = [
        words(
            say("{crop}: {n} x {material}, planting points: {places}"),
            crop=names.crop(r.text("crop")),
            n=r.whole("total"),
            material=names.cell("material", r.text("material")),
            places=r.whole("places"),
        )
        for r in records(sums)
    ]
    beds = rows["bed"].drop_duplicates().astype(str).tolist()
    lines.append(words(say("Beds: {beds}"), beds=", ".join(beds)))
    span = (
        say("Bring to the field: {n} {n:piece|pieces}, beds {first} to {last}")
        if len(beds) > 1
        else say("Bring to the field: {n} {n:piece|pieces}, bed {first}")
    )
    title = words(span, n=int(rows["total"].sum()), first=beds[0], last=beds[-1])
    return _event(names, f"bring|{day}", title, lines, first=day, last=day, kind=words(say("Planting material")))


def _event(names: Names, key: str, title: str, lines: list[str], *, first: date, last: date, kind: str) -> Event:
    event = Event()
    name = hashlib.sha256(f"{names.plan.name}|{key}".encode()).hexdigest()[:32]
    event.add("uid", f"{name}@geoagro")
    event.add("dtstart", first)
    event.add("dtend", last + timedelta(days=1))
    event.add("summary", title)
    event.add("description", "\n".join(lines))
    event.add("categories", [kind])
    event.add("transp", "TRANSPARENT")
    return event
