from click.testing import CliRunner

from geoagro.cli.guide import command
from geoagro.cli.main import group


def test_the_guide_lists_its_pages_with_their_titles():
    said = CliRunner().invoke(group, ["guide"]).output
    assert "rows" in said
    assert "Choose rows" in said


def test_a_page_is_printed_as_it_is_written():
    assert CliRunner().invoke(command, ["rows"]).output.startswith("# Choose rows")


def test_a_page_that_is_not_there_is_told_with_those_that_are():
    error = CliRunner().invoke(command, ["rowz"]).exception
    assert "'rowz'" in str(error)
    assert "rows" in str(error)
