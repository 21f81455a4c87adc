import re
from pathlib import Path

from click.testing import CliRunner

from geoagro.cli.main import group


def test_the_guide_lists_its_pages_with_their_titles():
    said = CliRunner().invoke(group, ["guide"]).output
    assert "rows" in said
    assert "Choose rows" in said


def test_a_page_is_printed_as_it_is_written():
    assert CliRunner().invoke(group, ["guide", "rows"]).output.startswith("# Choose rows")


def test_a_page_that_is_not_there_is_told_with_those_that_are():
    error = CliRunner().invoke(group, ["guide", "rowz"]).exception
    assert "'rowz'" in str(error)
    assert "rows" in str(error)


def test_pictures_of_the_readme_ship_with_the_guide_and_are_small():
    root = Path(__file__).parents[1]
    shown = re.findall(r"!\[[^\]]+\]\(([^)]+)\)", (root / "README.md").read_text(encoding="utf-8"))
    assert len(shown) == 2
    for name in shown:
        assert name.startswith("geoagro/guide/pictures/")
        assert 5_000 < (root / name).stat().st_size < 200_000
