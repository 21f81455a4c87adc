"""Sample plots, and what a survey says, in a made-up language in which every message is bracketed: no other word is left."""

from datetime import date

import gpxpy
import numpy as np
import pytest
from test_every_word_is_translated import bare, words  # noqa: F401

from geoagro import PlotRule, built_of, example_layout, plots_of, read_survey, write_plots
from geoagro.cli.habits.language import finding_line
from geoagro.cli.survey import _say


@pytest.fixture(scope="module")
def laid():
    return example_layout()


def test_waypoints_of_sample_plots_are_said(laid, words, tmp_path):  # noqa: F811
    plots, _ = plots_of(laid.beds, laid.plants.frame, PlotRule(radius_m=3.0))
    write_plots(plots, tmp_path, title="field", words=words)
    gpx = gpxpy.parse((tmp_path / "plots.gpx").read_text(encoding="utf-8"))
    texts = [gpx.name, *(point.description for point in gpx.waypoints)]
    assert len(texts) > 1
    assert [text for text in texts if bare(text)] == []


@pytest.fixture(scope="module")
def built(laid, tmp_path_factory):
    """A survey with deaths, a point far off, one that no plant has, one measured again, and a shift of all."""
    trees = laid.plants.by_crop()["apple"]
    frame = trees.assign(name=trees["plant"].astype(str), status=np.where(np.arange(len(trees)) % 5, "alive", "dead"))
    frame = frame[["name", "x", "y", "status"]].reset_index(drop=True)
    frame[["x", "y"]] += np.random.default_rng(1).normal(0.4, 0.05, (len(frame), 2))
    frame.loc[3, "name"] = "99999"
    frame.loc[len(frame)] = [*frame.loc[5, ["name"]], frame.loc[5, "x"] + 0.1, frame.loc[5, "y"], "dead"]
    file = tmp_path_factory.mktemp("survey") / "survey.csv"
    file.write_text(frame.to_csv(index=False))
    survey = read_survey(file, laid.site, what="plants", on=date(2031, 5, 2))
    asked = {"marks": None, "plants": laid.plants.frame, "plots": None, "covers": None, "within_m": None}
    return built_of(survey, laid.rows, laid.beds, crops=("apple",), **asked)


def test_what_a_survey_says_on_the_terminal_is_said(built, words, capsys):  # noqa: F811
    _say(built, words)
    lines = capsys.readouterr().out.splitlines()
    assert len(lines) > 4
    assert [line for line in lines if bare(line.replace("wilson", ""))] == []


def test_several_files_of_one_survey_are_said(laid, words, tmp_path):  # noqa: F811
    """One of another day, one that had to be put right and one that hadn't."""
    trees = laid.plants.by_crop()["apple"].assign(date="2031-05-02")
    trees = trees.assign(name=trees["plant"].astype(str))[["name", "x", "y", "date"]]
    swapped = trees.rename(columns={"x": "y", "y": "x"}).assign(date="2031-06-02")
    files = [tmp_path / "first.csv", tmp_path / "second.csv"]
    files[0].write_text(trees.iloc[:5].to_csv(index=False))
    files[1].write_text(swapped.iloc[5:].to_csv(index=False))
    found = read_survey(files, laid.site, what="plants", repair="swapped").findings
    assert {"survey", "survey (first.csv)", "survey (second.csv)"} <= {finding.where for finding in found}
    for finding in found:
        plain = type(finding)(finding.level, "".join(finding.where), "".join(finding.text))
        line = finding_line(plain, words).replace("first.csv", "").replace("second.csv", "").replace("survey ()", "")
        assert bare(line) == [], finding.text


def test_findings_of_a_survey_are_said_when_they_are_read_from_its_file(built, words):  # noqa: F811
    assert len(built.findings) >= 3
    for finding in built.findings:
        plain = type(finding)(finding.level, "".join(finding.where), "".join(finding.text))
        assert bare(finding_line(plain, words)) == [], finding.text
