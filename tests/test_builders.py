import pytest
from builders import straight_beds, straight_rows


def test_builders_give_sound_layers():
    rows = straight_rows()
    beds = straight_beds(rows)
    assert len(rows.frame) == 22
    assert len(beds.beds) == 44
    assert beds.tree_beds.geometry.area.sum() == pytest.approx(2200)
