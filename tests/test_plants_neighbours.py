import numpy as np
import pandas as pd
import pytest

from geoagro.plants.neighbours import choose_subjects, pairs_within


@pytest.mark.parametrize("distance", [0.5, 7.3, 30.0])
def test_pairs_are_those_of_the_full_distance_table_in_order(distance):
    rng = np.random.default_rng(1)
    a, b = rng.uniform(0, 100, (80, 2)), rng.uniform(-40, 140, (600, 2))
    i, j, d = pairs_within(a, b, distance)
    table = np.hypot(*(a[:, None] - b[None]).transpose(2, 0, 1))
    assert np.array_equal(np.stack([i, j]), np.stack(np.nonzero(table <= distance)))
    assert np.allclose(d, table[i, j])


def test_no_points_make_no_pairs():
    assert len(pairs_within(np.zeros((0, 2)), np.zeros((3, 2)), 1.0)[0]) == 0


def test_stretches_are_spread_over_all_beds_and_taken_whole():
    beds = np.repeat([f"B{k}" for k in range(50)], 200)
    station = np.tile(np.arange(200) * 0.5, 50)
    frame = pd.DataFrame({"bed": beds, "station_m": station})
    chosen = choose_subjects(frame, 2_000)
    part = frame.iloc[chosen.index]
    assert len(part) == pytest.approx(2_000, rel=0.1)
    assert part["bed"].nunique() > 45
    assert (part.groupby(["bed", part["station_m"] // 10]).size() == 20).all()
    assert "stretches of 10 m" in chosen.text
    assert np.array_equal(choose_subjects(frame, 2_000).index, chosen.index)
