"""Lengths as people write them, in metres."""

import pytest

from geoagro.values.model import metres


# exact by definition: NIST Special Publication 811 (2008), appendix B.8, after the agreement of 1959
@pytest.mark.parametrize(
    ("text", "expected"),
    [
        *(("1 in", 0.0254), ("1 ft", 0.3048), ("1 yd", 0.9144), ("1 mm", 0.001), ("1 cm", 0.01), ("1 m", 1.0)),
        *(("36 in", 0.9144), ("3 FT", 0.9144), (" -2.5yd ", -2.286), ("1e-2 m", 0.01)),
    ],
)
def test_units_of_length_have_their_legal_size(text, expected):
    assert metres(text) == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize("text", ["12", "12 rods", "m", "4,5 m", ""])
def test_what_is_no_length_is_refused(text):
    with pytest.raises(ValueError, match="is not a length"):
        metres(text)


@pytest.mark.parametrize("value", [4.5, 7, None])
def test_numbers_are_metres_already(value):
    assert metres(value) == value
