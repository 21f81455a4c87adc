"""The calendar file of a changed plan replaces that of the old one: by its rules, and in a calendar server with a client."""

import socket
import subprocess
import sys
import time
from dataclasses import replace
from datetime import timedelta

import pandas as pd
import pytest
import season_cases as cases
from icalendar import Calendar

from geoagro.errors import OutputError
from geoagro.outputs.season.ics import following, season_calendar, write_ics
from geoagro.outputs.words.say import Words

PLAN = cases.standard_plan()


def changed(plan):
    """The same plan with all harvests a week later and no mulching."""
    later = plan.spells["task"].eq("harvest").to_numpy()
    week = pd.Timedelta(days=7)
    spells = plan.spells.assign(**{k: plan.spells[k].where(~later, plan.spells[k] + week) for k in ("first", "last")})
    return replace(plan, spells=spells[spells["task"] != "mulch"])


def test_lines_keep_to_75_octets_and_cut_no_letter_of_several():
    """RFC 5545, 3.1: lines of 75 octets at most, folded; a letter such as é or a no-break space takes several octets."""
    file = season_calendar(PLAN, Words("fr")).to_ical()
    lines = file.split(b"\r\n")
    assert max(map(len, lines)) <= 75
    assert all(line.decode("utf-8") is not None for line in lines)
    assert sum(any(octet > 127 for octet in line) for line in lines) > 200
    whole = Calendar.from_ical(file).walk("VEVENT")
    assert any("\u00a0: " in str(event["summary"]) for event in whole)
    assert all("\n" not in str(event["summary"]) for event in whole)


def by_uid(file):
    return {str(event["uid"]): event for event in Calendar.from_ical(file).walk("VEVENT")}


@pytest.fixture(scope="module")
def files(tmp_path_factory):
    """The calendar of a plan, of the same plan again, of a changed one, and of the first plan once more."""
    folder, before, files = tmp_path_factory.mktemp("ics"), None, []
    for number, plan in enumerate((PLAN, PLAN, changed(PLAN), PLAN)):
        path = folder / f"{number}.ics"
        write_ics(plan, path, before)
        files.append(path.read_bytes())
        before = path
    return files


def test_every_day_of_an_event_is_a_day_of_work_on_its_task():
    """Runs have no gap, their hours add up to the task's, and two runs of a task don't touch."""
    keys = ["task", "planting", "crop", "bed_kind", "planting_no", "round"]
    sums = PLAN.spells.groupby(keys)["hours"].sum()
    done = PLAN.calendar[PLAN.calendar["likely_to"].notna()].set_index(keys)
    assert sums.loc[done.index].to_numpy() == pytest.approx(done["hours"].to_numpy(), abs=1e-6)
    ends = PLAN.spells.groupby(keys).agg(first=("first", "min"), last=("last", "max")).loc[done.index]
    assert (ends["first"] == done["likely_from"]).all() and (ends["last"] == done["likely_to"]).all()
    days = PLAN.spells.assign(days=(PLAN.spells["last"] - PLAN.spells["first"]).dt.days + 1)
    by_task = days.groupby("task")["days"].sum()
    worked = PLAN.days.groupby("task")["day"].nunique()
    assert (by_task.loc[worked.index] >= worked).all()
    for _, runs in PLAN.spells.sort_values("first").groupby(keys):
        gaps = runs["first"].iloc[1:].to_numpy() - runs["last"].iloc[:-1].to_numpy()
        assert (gaps > pd.Timedelta(days=1)).all()


def test_a_plan_that_did_not_change_gives_the_same_file(files):
    assert files[0] == files[1]


def test_changed_events_keep_their_uid_and_get_a_later_stamp_and_a_higher_sequence(files):
    old, new = by_uid(files[1]), by_uid(files[2])
    assert set(old) <= set(new)
    kinds = {"changed": 0, "same": 0, "gone": 0}
    for uid, event in new.items():
        before = old[uid]
        kind = (
            "gone"
            if event.get("status") == "CANCELLED"
            else "changed"
            if event["dtstart"].dt != before["dtstart"].dt
            else "same"
        )
        kinds[kind] += 1
        assert (event["sequence"] > before["sequence"]) == (kind != "same")
        assert (event["dtstamp"].dt > before["dtstamp"].dt) == (kind != "same")
        assert event["last-modified"].dt == event["dtstamp"].dt
        if kind == "changed":
            assert event["dtstart"].dt - before["dtstart"].dt == timedelta(days=7)
            assert str(event["summary"]).startswith("Harvest")
        if kind == "gone":
            assert str(event["summary"]).startswith("Mulching")
    assert min(kinds.values()) > 0, kinds


def test_what_was_cancelled_comes_back_with_a_higher_sequence(files):
    cancelled, back = by_uid(files[2]), by_uid(files[3])
    gone = [uid for uid, event in cancelled.items() if event.get("status") == "CANCELLED"]
    assert gone and set(cancelled) == set(back)
    for uid in gone:
        assert "status" not in back[uid] and back[uid]["sequence"] > cancelled[uid]["sequence"]


def test_a_file_that_is_no_calendar_is_refused_with_the_way_on(tmp_path):
    with pytest.raises(OutputError, match="Move it away"):
        following(season_calendar(PLAN), b"BEGIN:VCALENDAR\nnonsense")


@pytest.fixture
def server(tmp_path):
    """A calendar server on this machine, without passwords; the test is skipped where it isn't installed."""
    pytest.importorskip("radicale", reason="radicale (from the package index) is not installed")
    caldav = pytest.importorskip("caldav", reason="caldav (from the package index) is not installed")
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    options = [
        "--server-hosts",
        f"127.0.0.1:{port}",
        "--auth-type",
        "none",
        "--storage-filesystem-folder",
        str(tmp_path),
    ]
    with subprocess.Popen([sys.executable, "-m", "radicale", *options], stderr=subprocess.DEVNULL) as process:
        for _ in range(100):
            with socket.socket() as knock:
                if knock.connect_ex(("127.0.0.1", port)) == 0:
                    break
            time.sleep(0.1)
        yield caldav.DAVClient(url=f"http://127.0.0.1:{port}/", username="grower", password="none")
        process.terminate()


def put(calendar, file):
    """Hand a file to the server event by event, as calendar programs do; the client is kept from numbering by itself."""
    caldav = pytest.importorskip("caldav")
    for event in Calendar.from_ical(file).walk("VEVENT"):
        one = Calendar()
        one.add("prodid", "-//test//EN")
        one.add("version", "2.0")
        one.add_component(event)
        caldav.Event(calendar.client, data=one.to_ical().decode(), parent=calendar).save(increase_seqno=False)


def test_a_calendar_server_holds_each_event_once_and_the_newest_after_a_change(server, files):
    calendar = server.principal().make_calendar(name="plan")
    for file in (files[0], files[2]):
        put(calendar, file)
        held = [event for item in calendar.events() for event in item.icalendar_instance.walk("VEVENT")]
        wanted = by_uid(file)
        assert len(held) == len(wanted)
        for event in held:
            asked = wanted[str(event["uid"])]
            assert (event["dtstart"].dt, event["sequence"]) == (asked["dtstart"].dt, asked["sequence"])
            assert event.get("status") == asked.get("status")
