"""The files of a season plan: the same numbers in each, sound by their standards, the same bytes each time."""

import hashlib
import json
import re
from dataclasses import replace
from pathlib import Path

import openpyxl
import pandas as pd
import pyogrio
import pytest
import season_cases as cases
from builders import UTM
from icalendar import Calendar
from page_texts import filled_and_told, page_texts

from geoagro.errors import DesignError, OutputError
from geoagro.inputs.design.file import read_design
from geoagro.inputs.design.template import write_design_template
from geoagro.outputs.drawing.typefaces import lettered
from geoagro.outputs.season import chart_beds
from geoagro.outputs.season import files as season_files
from geoagro.outputs.season.chart_calendar import draw_calendar
from geoagro.outputs.season.chart_style import SMALL_PT
from geoagro.outputs.season.charts import CHARTS
from geoagro.outputs.season.files import season_file_names, write_season
from geoagro.outputs.season.ics import write_ics
from geoagro.outputs.season.map import BED_MAP, bed_map
from geoagro.outputs.season.names import Names
from geoagro.outputs.season.report import write_report
from geoagro.outputs.season.report_data import report_data
from geoagro.outputs.season.spreadsheet import SHEETS, write_sheet
from geoagro.outputs.words.say import ENGLISH
from geoagro.season.records.tables import BED_MONTHS
from geoagro.season.rule import season_section
from geoagro.values.design import Design
from geoagro.values.season import CropSeason, Range, SeasonRule

PLAN = cases.standard_plan()


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    folder = tmp_path_factory.mktemp("season")
    write_season(PLAN, cases.field()[0], UTM, folder)
    return folder


@pytest.fixture(scope="module")
def read(folder):
    """How far down each page of the report its text reaches, and the text: reading takes long."""
    return filled_and_told(folder / "season.pdf")


def test_no_page_is_left_nearly_empty(read):
    shares = [share for share, _ in read]
    assert sum(share < 0.35 for share in shares) <= 1, shares


@pytest.mark.parametrize("lane_in", [0.2, 0.44])
def test_crops_are_named_in_their_bars_and_no_name_lies_on_another(monkeypatch, lane_in):
    monkeypatch.setattr(chart_beds, "_LANE_IN", lane_in)  # thin bars: names stand beside each other
    with lettered():
        figure = chart_beds.draw_beds(Names(PLAN, ENGLISH))
        figure.draw_without_rendering()
    told = [text for text in figure.axes[0].texts if text.get_fontsize() == SMALL_PT]
    crops = {ENGLISH.title(crop.replace("_", " ")) for crop in PLAN.material["crop"]}
    written = {text.get_text() for text in told}
    long_standing = {"Gliricidia", "Lemon"} | ({"Cassava", "Sweet potato"} if lane_in > 0.3 else set())
    assert long_standing <= written <= crops
    boxes = [text.get_window_extent() for text in told]
    apart = [
        min(a.x1, b.x1) - max(a.x0, b.x0) <= 1 or min(a.y1, b.y1) - max(a.y0, b.y0) <= 1
        for k, a in enumerate(boxes)
        for b in boxes[k + 1 :]
    ]
    assert all(apart)


@pytest.fixture(scope="module")
def book(folder):
    books = [openpyxl.load_workbook(folder / name, data_only=True) for name in ("season.xlsx", "season_days.xlsx")]
    return {sheet.title: sheet for one in books for sheet in one}


@pytest.fixture(scope="module")
def events(folder):
    return Calendar.from_ical((folder / "season.ics").read_bytes()).walk("VEVENT")


@pytest.fixture(scope="module")
def pages(read):
    return " ".join(" ".join(text.split()) for _, text in read)


def test_every_promised_file_is_there(folder):
    assert sorted(p.name for p in folder.iterdir() if p.is_file()) == sorted(season_file_names())


# --- the same numbers -------------------------------------------------------------------------------------------


def test_the_geopackage_holds_the_tables_of_the_plan(folder):
    for spec, frame in PLAN.tables():
        read = pyogrio.read_dataframe(folder / "season.gpkg", layer=spec.name)
        for field in spec.fields:
            if field.kind in {"int", "float"}:
                pd.testing.assert_series_equal(read[field.name], frame[field.name], check_dtype=False, check_exact=True)
            elif field.kind == "date":
                got = pd.to_datetime(read[field.name]).astype("datetime64[s]")
                pd.testing.assert_series_equal(got, frame[field.name])
            else:
                assert (read[field.name].fillna("") == frame[field.name].fillna("")).all()


def test_the_spreadsheet_holds_the_same_values_and_sums(book):
    for spec, frame in PLAN.tables():
        if spec is BED_MONTHS:
            continue
        sheet = book[SHEETS[spec.name]]
        for k, field in enumerate(spec.fields, start=1):
            cells = [sheet.cell(row, k).value for row in range(2, len(frame) + 2)]
            if field.kind in {"int", "float"}:
                assert [v for v in cells if v is not None] == pytest.approx(
                    frame[field.name].dropna().tolist(), rel=1e-12
                )
        if spec.name == "season_material":
            row = len(frame) + 2
            assert sheet.cell(row, 1).value == "Sum"
            assert sheet.cell(row, spec.columns.index("total") + 1).value == frame["total"].sum()


def test_sums_of_the_spreadsheet_are_formulas(folder):
    sheet = openpyxl.load_workbook(folder / "season.xlsx")[SHEETS["season_material"]]
    assert sheet.cell(len(PLAN.material) + 2, 6).value == f"=SUM(F2:F{len(PLAN.material) + 1})"


def test_the_grid_of_beds_and_months_holds_the_same_crops(book):
    sheet = book[SHEETS[BED_MONTHS.name]]
    months = [cell.value for cell in sheet[1]][1:]
    for row in list(sheet.iter_rows(min_row=2, values_only=True))[:5]:
        wanted = PLAN.bed_months[PLAN.bed_months["bed"] == row[0]].set_index("month")["crops"]
        names = Names(PLAN, ENGLISH)
        assert [cell or "" for cell in row[1:]] == [names.crops(wanted[pd.Timestamp(m)]) for m in months]


def test_pages_hold_orders_nutrients_and_cautions_beside_tasks(pages):
    for heading in ("What to order by when", "Nutrients given and taken", "Take care at these tasks"):
        assert heading in pages
    cautions = PLAN.calendar["caution"]
    assert (cautions != "").any()
    for caution in cautions[cautions != ""].unique():
        assert pages.count(caution) >= 1
    for ask in PLAN.orders["ask"][PLAN.orders["ask"] != ""].unique():
        assert ask in pages
    for row in PLAN.orders.itertuples():
        assert (
            " ".join(f"{ENGLISH.short_day(row.order_by)} {ENGLISH.days(row.needed_on, row.needed_to)}".split()) in pages
        )


def test_the_calendar_file_holds_the_same_days(events):
    tasks = [e for e in events if e["CATEGORIES"].cats != ["Planting material"]]
    done = PLAN.calendar[PLAN.calendar["likely_to"].notna()]
    spans = sorted((e.start, e.end) for e in tasks)
    day = pd.Timedelta(days=1)
    assert spans == sorted((r.first.date(), (r.last + day).date()) for r in PLAN.spells.itertuples())
    cassava = next(e for e in tasks if str(e["SUMMARY"]) == "Planting: Cassava")
    row = done.query("task == 'plant' and crop == 'cassava'").iloc[0]
    assert (
        f"Earliest {ENGLISH.short_day(row['earliest'])}, latest {ENGLISH.short_day(row['latest'])}"
        in cassava["DESCRIPTION"]
    )
    assert f"of {row['hours']:,.1f} hours" in cassava["DESCRIPTION"]


def test_the_calendar_file_brings_every_piece_on_its_day(events):
    bring = {e.start: str(e["SUMMARY"]) for e in events if e["CATEGORIES"].cats == ["Planting material"]}
    for day, rows in PLAN.material_days.groupby("day"):
        assert f"{rows['total'].sum():,} pieces" in bring[day.date()]
    assert len(bring) == PLAN.material_days["day"].nunique()


def test_the_report_prints_the_same_figures(pages):
    for reading in PLAN.figures["reading"]:
        assert " ".join(ENGLISH(reading).split()) in pages
    for row in PLAN.material.itertuples():
        assert f"{row.pieces:,} {row.spares:,} {row.total:,}" in pages
    for row in PLAN.years.itertuples():
        assert f"{row.net_likely:,.0f} {row.balance_low:,.0f}" in pages
    for row in PLAN.calendar.query("planting_no == 1 and round == 1").itertuples():
        if not pd.isna(row.likely_to):
            days = " ".join(ENGLISH.short_day(d) for d in (row.earliest, row.likely_from, row.likely_to, row.latest))
            assert f"{days} {row.hours:,.0f}" in pages
    assert "10 mg HCN per kg" in pages
    assert "assumptions" in pages


def test_the_map_of_beds_agrees_with_the_calendar_by_bed(folder):
    beds = pyogrio.read_dataframe(folder / "season.gpkg", layer="season_bed_map").set_index("bed")
    assert len(beds) == 13 * 3
    row = beds.loc["R003-D1"]
    tasks = PLAN.bed_tasks.query("bed == 'R003-D1'")
    assert row["crops"] == "cassava+maize+sweet_potato"
    assert pd.Timestamp(row["plant_from"]) == tasks.query("task == 'plant'")["likely_from"].min()
    assert pd.Timestamp(row["next_harvest"]) == tasks.query("task == 'harvest'")["likely_from"].min()
    assert pd.Timestamp(row["free_from"]) == PLAN.free_beds.query("bed == 'R003-D1'")["free_from"].iloc[-1]
    assert row["geometry"].area == pytest.approx(60.0)


# --- sound by their standards -----------------------------------------------------------------------------------


def test_the_calendar_file_keeps_rfc_5545(folder, events):
    """RFC 5545: 3.1 lines end with CRLF and are folded at 75 octets; 3.6 PRODID, VERSION; 3.6.1 UID, DTSTAMP, DTSTART."""
    raw = (folder / "season.ics").read_bytes()
    assert raw.count(b"\n") == raw.count(b"\r\n") and raw.endswith(b"END:VCALENDAR\r\n")
    assert max(len(line) for line in raw.split(b"\r\n")) <= 75
    calendar = Calendar.from_ical(raw)
    assert calendar["VERSION"] == "2.0" and calendar["PRODID"]
    assert len({str(e["UID"]) for e in events}) == len(events)
    for event in events:
        assert event["DTSTART"].params["VALUE"] == "DATE" and event.end > event.start
        assert event["DTSTAMP"].dt.tzinfo is not None
        assert not event.errors


def test_names_that_look_like_formulas_or_lines_do_no_harm(folder, tmp_path):
    recipe = (("cassava", "=1+1\nEND:VEVENT <b> #show", "vegetable", 0.6, 0, 35, 56),)
    plan = cases.plan(size_m=20, recipe=recipe)
    write_sheet(plan, tmp_path / "season.xlsx")
    write_ics(plan, tmp_path / "season.ics")
    write_report(plan, folder, tmp_path / "season.pdf")
    assert any("<b> #show" in text for text in page_texts(tmp_path / "season.pdf"))
    sheet = openpyxl.load_workbook(tmp_path / "season.xlsx")[SHEETS["season_calendar"]]
    column = [cell.value for cell in sheet["B"]]
    assert recipe[0][1] in column
    assert all(cell.data_type != "f" for cell in sheet["B"])
    events = Calendar.from_ical((tmp_path / "season.ics").read_bytes()).walk("VEVENT")
    assert any("END:VEVENT <b>" in str(e["SUMMARY"]) for e in events)


@pytest.mark.parametrize(
    "change",
    [
        {"crew": {"people": 0.001}, "years": 1},  # next to nothing is done
        {"vegetables": {"every_weeks": 10, "years": 3}, "years": 3},  # no bed is ever free
        {"years": 1, "crops": {}, "wage_per_hour": None},  # no money known at all
    ],
)
def test_odd_plans_are_written_and_drawn_too(change, tmp_path):
    plan = cases.plan(cases.rule(**change), size_m=14.0)
    for draw in CHARTS.values():
        draw(Names(plan, ENGLISH))
    write_sheet(plan, tmp_path / "season.xlsx")
    write_ics(plan, tmp_path / "season.ics")
    assert len(bed_map(plan, cases.field(14.0)[0], UTM)) == plan.bed_months["bed"].nunique()
    assert not re.search(r"\bnan\b|NaT", json.dumps(report_data(plan)))


def test_the_same_plan_gives_the_same_bytes(folder, tmp_path):
    write_season(PLAN, cases.field()[0], UTM, tmp_path)
    for name in season_file_names():
        one, two = (hashlib.sha256((place / name).read_bytes()).hexdigest() for place in (folder, tmp_path))
        assert one == two, name


def test_a_failed_run_leaves_the_earlier_result(folder, monkeypatch):
    before = {name: (folder / name).read_bytes() for name in season_file_names()}

    def fail(*_):
        raise OutputError("no ink left")

    monkeypatch.setattr(season_files, "write_charts", fail)
    with pytest.raises(OutputError, match="no ink"):
        write_season(PLAN, cases.field()[0], UTM, folder)
    assert all((folder / name).read_bytes() == content for name, content in before.items())


# --- two designs ------------------------------------------------------------------------------------------------


def test_the_guide_names_every_table_and_every_key():
    text = (Path(__file__).parents[1] / "geoagro" / "guide" / "season.md").read_text(encoding="utf-8")
    for spec, _ in PLAN.tables():
        assert f"| `{spec.name}` | {spec.title} |" in text
    for key in [*SeasonRule.model_fields, *CropSeason.model_fields]:
        assert f"`{key}`" in text or f"`{key}: " in text, key
    for spec in [*(spec for spec, _ in PLAN.tables()), BED_MAP]:
        assert all(field.description.endswith(".") for field in spec.fields), spec.name


# --- the command ------------------------------------------------------------------------------------------------


def test_the_season_in_the_template_loads_when_switched_on(tmp_path):
    text = write_design_template(tmp_path / "design.yaml").read_text()
    head, rest = text.replace("# start_date: ", "start_date: ", 1).split("# season:", 1)
    block, tail = rest.split("# ----", 1)
    on = "".join(line.removeprefix("# ") for line in f"# season:{block}".splitlines(keepends=True))
    path = tmp_path / "on.yaml"
    path.write_text(head + on + "# ----" + tail)
    design = read_design(path)
    assert design.start_date is not None and design.season is not None
    assert design.season.crops["apple"].price == Range(low=0.8, likely=1.2, high=1.6)
    assert [window.kind for window in design.season.windows] == ["rains", "frost"]


@pytest.mark.parametrize(
    ("cut", "message"),
    [("season", "no section `season:`"), ("start_date", "give `start_date`")],
)
def test_a_design_without_season_or_start_is_told_what_to_add(cut, message):
    given = {"name": "x", "inputs": {"boundary": {"file": "b"}, "elevation": {"file": "e"}}}
    given |= {"start_date": "2027-03-01", "season": {}}
    del given[cut]
    with pytest.raises(DesignError, match=message):
        season_section(Design.model_validate(given))


def test_a_mistake_in_the_season_names_its_line_and_key(tmp_path):
    path = tmp_path / "design.yaml"
    path.write_text(
        "name: x\ninputs:\n  boundary: {file: b}\n  elevation: {file: e}\nseason:\n  crops:\n    cassava: {price: [3, 2, 1]}\n"
    )
    with pytest.raises(DesignError, match=r"design.yaml:7: season.crops.cassava.price: .*must rise"):
        read_design(path)


def test_a_fence_belongs_to_no_bed_and_every_product_says_so(tmp_path):
    plan = cases.plan(cases.rule(fence_m=120, watering={"weeks": 2}), size_m=30)
    write_season(plan, cases.field(30)[0], UTM, tmp_path)
    events = Calendar.from_ical((tmp_path / "season.ics").read_bytes()).walk("VEVENT")
    fencing = [event for event in events if str(event["summary"]).startswith("Fencing")]
    assert {str(event["summary"]) for event in fencing} == {"Fencing: whole field"}
    assert all("beds" not in str(event["description"]) for event in fencing)
    assert "Whole field" in page_texts(tmp_path / "season.pdf")[1]


def test_cautions_stay_on_the_first_page_however_many_warnings_there_are():
    """Chainsaws, slopes and raw roots were cut off behind twelve warnings of rotation and weather."""
    warning = PLAN.findings.head(1).assign(severity="warning")
    crowded = replace(PLAN, findings=pd.concat([warning] * 15 + [PLAN.findings], ignore_index=True))
    told, usual = report_data(crowded), report_data(PLAN)
    assert [f for f in told["findings"] if f["level"] == "caution"] == [
        f for f in usual["findings"] if f["level"] == "caution"
    ]
    assert any(f["level"] == "caution" for f in told["findings"])
    left_out = 15 + (PLAN.findings["severity"] == "warning").sum() - 12
    assert str(left_out) in told["more_findings"]


def test_numbers_of_sowings_that_follow_closely_are_added_up_instead_of_lying_on_one_another():
    """A cover crop is sown bed by bed as beds fall free, each time as a planting of its own."""
    sown = PLAN.calendar[(PLAN.calendar["task"] == "plant") & (PLAN.calendar["planting_no"] == 1)].head(1)
    later = [
        sown.assign(
            planting_no=101 + k,
            places=100_000 + k,
            **{
                name: sown[name] + pd.Timedelta(days=days)
                for name in ("earliest", "likely_from", "likely_to", "latest")
            },
        )
        for k, days in enumerate((40, 55, 63, 200))
    ]
    plan = replace(PLAN, calendar=pd.concat([PLAN.calendar, *later], ignore_index=True))
    with lettered():
        figure = draw_calendar(Names(plan, ENGLISH))
        figure.draw_without_rendering()
    texts = [text for text in figure.axes[0].texts if text.get_text()]
    told = {text.get_text() for text in texts}
    assert {"300,003", "100,003"} <= told and not told & {"100,000", "100,001", "100,002"}
    boxes = [text.get_window_extent() for text in texts if "," in text.get_text()]
    assert not any(a.overlaps(b) for k, a in enumerate(boxes) for b in boxes[k + 1 :])
