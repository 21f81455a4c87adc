"""Keys and files that a finding is about stand as they are, in every language."""

import pytest

from geoagro.outputs.report.cell_words import about_words
from geoagro.outputs.words.say import CATALOGS, Words


@pytest.mark.parametrize("language", ["en", *sorted(path.stem for path in CATALOGS.glob("*.po"))])
@pytest.mark.parametrize("name", ["water.machine_slope_pct", "citrus_2028-06-01.csv", "stakeout.tolerance_m"])
def test_keys_and_files_that_a_finding_is_about_stand_as_they_are(language, name):
    assert about_words(name, Words(language)) == name
