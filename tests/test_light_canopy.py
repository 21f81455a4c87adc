"""Light taken by crowns across an alley: laws, closed forms, and sun hours behind opaque hedges."""

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from geoagro.light.canopy import Crown, _levels, light_below, light_in, taken_alone
from geoagro.light.growth import canopy_of
from geoagro.light.rays import Rays, Sky
from geoagro.light.sun import day_length_h, position
from geoagro.values.recipe import Crop
from geoagro.values.timeline import Stay

DOWN = Rays(np.array([0.0]), np.array([1.0]), np.array([1.0]))
SKY = Sky(-30.0)

crowns = st.lists(
    st.builds(
        lambda x, s, r, base, height, opacity: Crown((x,), (s,), r, base * height, height, opacity),
        st.floats(0, 5), st.floats(0.2, 6), st.floats(0.1, 3), st.floats(0, 0.8), st.floats(0.2, 12), st.floats(0.05, 1),
    ),
    min_size=1,
    max_size=5,
)  # fmt: skip


@settings(max_examples=40, deadline=None)
@given(crowns, st.integers(1, 12), st.floats(0, 180), st.floats(-0.4, 0.4))
def test_what_crops_take_and_what_the_ground_gets_is_all_the_light(some, month, bearing, fall):
    light = light_in(some, 5.0, SKY.rays((month,), bearing).sloped(fall))
    assert light.captured.sum() + light.ground.mean() == pytest.approx(1.0, abs=1e-9)
    assert (light.captured >= 0).all()
    assert (light.ground <= 1 + 1e-9).all()
    assert (light.incoming <= 1 + 1e-9).all()


@settings(max_examples=25, deadline=None)
@given(crowns, st.integers(1, 12), st.floats(0, 180))
def test_a_further_crop_never_lets_more_light_reach_the_ground(some, month, bearing):
    rays = SKY.rays((month,), bearing)
    assert light_in(some, 5.0, rays).ground.mean() <= light_in(some[:-1], 5.0, rays).ground.mean() + 1e-3


def test_an_even_canopy_follows_monsi_and_saeki():
    """Depth 1.5 (k 0.5, leaf area index 3) lets exp(-1.5) = 0.22313 through from straight above."""
    lines = tuple(np.arange(0.05, 5, 0.1))
    even = Crown(lines, (1.0,) * len(lines), 2.0, 0.0, 1.0, 1.5 * 0.1 / (np.pi * 4))
    assert light_in([even], 5.0, DOWN).ground.mean() == pytest.approx(0.22313, abs=2e-4)


def test_a_lone_crown_takes_its_opacity():
    lone = Crown((5.0,), (1000.0,), 1.0, 0.0, 2.0, 0.8)
    assert light_in([lone], 10.0, DOWN).captured[0] * 10 * 1000 == pytest.approx(0.8 * np.pi, rel=0.02)


def test_one_crop_in_two_names_takes_half_each():
    whole = Crown((0.0, 1.0), (0.4, 0.4), 0.5, 0.2, 1.5, 0.6)
    half = Crown((0.0, 1.0), (0.8, 0.8), 0.5, 0.2, 1.5, 0.6)
    rays = SKY.rays((3,), 20.0)
    one, two = light_in([whole], 2.0, rays), light_in([half, half], 2.0, rays)
    assert two.captured == pytest.approx([one.captured[0] / 2] * 2)
    assert np.allclose(one.ground, two.ground)


def test_both_beds_beside_rows_that_run_north_get_the_same_light():
    hedge = Crown((0.0,), (1.0,), 1.0, 0.5, 4.0, 0.7)
    for month in (1, 4, 7):
        ground = light_in([hedge], 5.0, SKY.rays((month,), 0.0)).ground
        assert np.allclose(ground, ground[::-1], atol=2e-3)


def test_the_other_hemisphere_half_a_year_later_is_the_mirror_image():
    hedge = Crown((1.0,), (1.0,), 1.0, 0.5, 4.0, 0.7)
    mirrored = Crown((4.0,), (1.0,), 1.0, 0.5, 4.0, 0.7)
    for month in (1, 6, 9):
        south = light_in([hedge], 5.0, Sky(-35.0).rays((month,), 90.0)).ground
        north = light_in([mirrored], 5.0, Sky(35.0).rays(((month + 5) % 12 + 1,), 90.0)).ground
        assert np.allclose(south, north[::-1], atol=0.012)  # the mean days of the months differ a little


@pytest.mark.parametrize(
    ("latitude", "day", "bearing", "hours"),
    # opaque endless hedges 4 m high, 5 m apart, middle of the strip: geometry worked out apart from this code
    [
        (-30, 172, 90, 0.0), (-30, 172, 0, 2.9), (-30, 355, 90, 10.2), (-30, 355, 0, 4.7),
        (45, 172, 90, 11.2), (45, 172, 0, 4.5), (45, 355, 90, 0.0), (45, 355, 0, 1.8),
    ],
)  # fmt: skip
def test_hours_of_sun_between_opaque_hedges(latitude, day, bearing, hours):
    hour = np.arange(0.05, 24, 0.1)
    elevation, azimuth = position(latitude, day, hour)
    up = elevation > 0
    hedge = Crown((0.0,), (0.02,), 0.01, 0.0, 4.0, 1000.0)
    shift = -np.sin(np.radians(azimuth[up] - bearing)) / np.tan(np.radians(elevation[up]))
    path = 1 / np.sin(np.radians(elevation[up]))
    sunny = 0
    for s, p in zip(shift, path, strict=True):
        light = light_in([hedge], 5.0, Rays(np.array([s]), np.array([p]), np.ones(1)))
        sunny += np.interp(2.5, light.x_m, light.ground) > 0.5
    assert sunny * 0.1 == pytest.approx(hours, abs=0.2)
    assert sunny * 0.1 <= day_length_h(latitude, day)


def test_ground_that_faces_the_sun_keeps_more_of_it():
    """Rows running east at 30 south, 15 % slope: north of a row is the left side."""
    trees = Crown((0.0,), (3.0,), 1.5, 0.5, 4.0, 0.7)
    rays = SKY.rays(tuple(range(1, 13)), 90.0)
    toward, level, away = (light_in([trees], 5.0, rays.sloped(fall)).ground.mean() for fall in (-0.15, 0.0, 0.15))
    assert toward > level > away


def test_a_crop_without_measured_crown_has_leaves_from_the_ground_on_and_without_width_takes_no_light():
    plain = Crop(spacing_m=1.0, canopy_width_m=1.0, height_m=2.0)
    canopy = canopy_of(plain, south=False)
    assert (canopy.base_share, canopy.kept_width, canopy.kept_height, canopy.area_m2) == (0.0, 1.0, 1.0, 1.0)
    assert 0 < canopy.opacity < 1
    assert canopy_of(Crop(spacing_m=1.0, height_m=2.0), south=False).opacity == 0.0


def test_light_on_the_ground_is_the_same_crown_by_crown_and_layer_by_layer():
    rays = Sky(47.0).rays((4,), 30.0)
    crowns = [
        Crown((0.0,), (3.0,), 1.4, 0.6, 3.1, 0.7),
        Crown((0.2, 2.4), (1.5, 2.0), 0.5, 0.0, 1.2, 0.5),
        Crown((1.0,), (0.3,), 0.2, 0.1, 0.4, 0.9),
    ]
    whole = light_in(crowns, 4.5, rays)
    x, left = light_below(crowns, 4.5, rays)
    assert np.array_equal(x, whole.x_m)
    assert np.allclose(left, whole.left, atol=1e-12)


@settings(max_examples=60)
@given(crowns)
def test_one_kind_by_itself_takes_the_same_in_one_step(many):
    alone = many[:1]
    rays = SKY.rays((3,), 70.0)
    whole = light_in(alone, 4.5, rays)
    assert taken_alone(alone[0], 4.5, rays) == pytest.approx(float(whole.captured[0]), abs=1e-9)
    assert whole.incoming[0] == pytest.approx(1.0)


def by_arrays(crowns, width, rays):
    """The model once more in numpy: chords of discs added up in closed form at every crossing, whole arrays at a time."""
    x = (np.arange(20) + 0.5) * width / 20
    shift = np.where(np.abs(rays.shift) < 1e-6, 1e-6, rays.shift)[:, None]

    def total(crown, at):
        turns, inside = np.floor(at / width), at - np.floor(at / width) * width
        edge = np.linspace(0, width, int(np.ceil(width / 0.05)) + 1)
        value = np.zeros(len(edge))
        for line, step in zip(crown.x_m, crown.spacing_m, strict=True):
            for image in range(-12, 13):
                u = np.clip(edge - line % width - image * width, -crown.radius_m, crown.radius_m)
                area = (u * np.sqrt(crown.radius_m**2 - u**2) + crown.radius_m**2 * np.arcsin(u / crown.radius_m)) / 2
                value += 2 * crown.opacity / step * (area - area[0])
        return turns * value[-1] + np.interp(inside, edge, value)

    levels = np.unique([0.0, *(c.base_m for c in crowns), *(c.top_m for c in crowns)])
    fine = np.concatenate([np.linspace(a, b, int(np.ceil((b - a) / max(1.0, levels[-1] / 12))) + 1)[:-1]
                           for a, b in pairwise(levels)] + [levels[-1:]])  # fmt: skip
    left, captured = np.ones((len(shift), len(x))), np.zeros(len(crowns))
    for low, high in reversed(list(pairwise(fine))):
        depth = np.zeros((len(crowns), *left.shape))
        for k, crown in enumerate(crowns):
            if crown.base_m < high <= crown.top_m:
                fall = (total(crown, x - shift * low) - total(crown, x - shift * high)) / shift
                depth[k] = np.maximum(fall, 0) * rays.path[:, None] / (crown.top_m - crown.base_m)
        taken = left * -np.expm1(-depth.sum(axis=0))
        captured += (depth * (taken / np.maximum(depth.sum(axis=0), 1e-9) * rays.weight[:, None])).sum(
            axis=(1, 2)
        ) / len(x)
        left = left - taken
    return captured, left


@settings(max_examples=40, deadline=None)
@given(crowns, st.integers(1, 12), st.floats(0, 180), st.floats(-0.4, 0.4))
def test_compiled_rays_take_what_arrays_take_to_a_hundred_millionth(some, month, bearing, fall):
    rays = SKY.rays((month,), bearing).sloped(fall)
    captured, left = by_arrays(some, 5.0, rays)
    light = light_in(some, 5.0, rays)
    assert np.allclose(light.captured, captured, atol=1e-8)
    assert np.allclose(light.left, left, atol=1e-8)
    assert np.allclose(light_below(some, 5.0, rays)[1], left, atol=1e-8)


def test_light_above_a_crop_is_what_those_above_it_leave():
    """Under an even cover of depth 1.5 a low crop gets exp(-1.5), or exp(-3) from aslant where the way is twice as long."""
    lines = tuple(np.arange(0.05, 5, 0.1))
    cover = Crown(lines, (1.0,) * len(lines), 2.0, 2.0, 3.0, 1.5 * 0.1 / (np.pi * 4))
    low = Crown((1.3,), (0.5,), 0.3, 0.0, 1.0, 0.5)
    aslant = Rays(np.array([np.sqrt(3)]), np.array([2.0]), np.array([1.0]))
    for rays, depth in ((DOWN, 1.5), (aslant, 3.0)):
        light = light_in([low, cover], 5.0, rays)
        assert light.incoming == pytest.approx([np.exp(-depth), 1.0], abs=2e-3)
        assert light.captured[1] == pytest.approx(1 - np.exp(-depth), abs=2e-3)
    hedge = Crown((0.0,), (0.02,), 0.5, 2.0, 3.0, 50.0)
    assert light_in([Crown((2.5,), (1.0,), 0.5, 0.0, 1.0, 0.5), hedge], 5.0, DOWN).incoming[0] == pytest.approx(1.0)
    assert light_in([Crown((5.0,), (1.0,), 0.3, 0.0, 1.0, 0.5), hedge], 5.0, DOWN).incoming[0] < 0.01


def test_bare_ground_has_all_the_light_at_even_places():
    for width, count in ((1.0, 12), (5.0, 20), (100.0, 120)):
        x, left = light_below((), width, DOWN)
        assert x == pytest.approx((np.arange(count) + 0.5) * width / count)
        assert (left == 1.0).all()
        empty = light_in((), width, DOWN)
        assert len(empty.captured) == len(empty.incoming) == 0 and (empty.ground == 1.0).all()


CROP = Crop(
    canopy_width_m=2.0, height_m=3.0, spacing_m=0.5, usual_per_m2=0.25, k_lai=2.0, crown_base_pct=10,
    pruned_width_m=1.5, pruned_height_m=2.4, full_size_weeks=52,
)  # fmt: skip


def test_a_crown_is_as_wide_high_and_dense_as_its_crops_record_says():
    canopy = canopy_of(CROP, south=False)
    assert (canopy.radius_m, canopy.height_m, canopy.area_m2, canopy.full_size_weeks) == (1.0, 3.0, 4.0, 52)
    assert (canopy.kept_width, canopy.kept_height, canopy.base_share) == pytest.approx((0.75, 0.8, 0.1))
    assert canopy.opacity == pytest.approx(1 - np.exp(-2.0 * 4.0 / np.pi))
    assert canopy_of(CROP, south=False, leaf_factor=0.5).opacity == pytest.approx(1 - np.exp(-4.0 / np.pi))
    assert canopy.sole_lines() == (8.0, ((0.0,), (0.5,)))  # 0.5 m in the line, 8 m between lines: 4 m2 each
    crown = canopy.crown(((1.0, 2.0), (0.5, 0.6)), (0.5, 0.4))
    assert (crown.x_m, crown.spacing_m, crown.opacity) == ((1.0, 2.0), (0.5, 0.6), canopy.opacity)
    assert (crown.radius_m, crown.top_m, crown.base_m) == pytest.approx((0.5, 1.2, 0.12))


def test_what_a_crops_record_leaves_open_is_taken_from_what_it_says():
    open_ = Crop(canopy_width_m=2.0, height_m=3.0)
    canopy = canopy_of(open_, south=False)
    assert (canopy.spacing_m, canopy.area_m2, canopy.full_size_weeks) == (2.0, 4.0, 1.0)
    assert canopy.opacity == pytest.approx(1 - np.exp(-1.5 * 4.0 / np.pi))  # k 0.5 x leaf area index 3
    assert canopy_of(Crop(), south=False).spacing_m == 1.0
    dense = canopy_of(CROP.model_copy(update={"usual_per_m2": 400.0}), south=False)
    assert dense.sole_lines()[0] == pytest.approx(0.05)  # lines stand 5 cm apart at least
    whole = canopy_of(CROP.model_copy(update={"pruned_width_m": 9.0, "pruned_height_m": None}), south=False)
    assert (whole.kept_width, whole.kept_height) == (1.0, 1.0)
    casts = [
        canopy_of(Crop(canopy_width_m=w, height_m=h), south=False).casts for w, h in ((1, 1), (1, None), (None, 1))
    ]
    assert casts == [True, False, False]


def test_a_plant_grows_evenly_to_hundredths_and_is_cut_back_in_width_and_height():
    canopy, stay = canopy_of(CROP, south=False), Stay(1, 10, 60, 200, 200, (100,))
    assert canopy.sizes(stay, 10) == (0.02, 0.02)
    assert canopy.sizes(stay, 23) == (0.25, 0.25)
    assert canopy.sizes(stay, 27.35) == (0.33, 0.33)
    assert canopy.sizes(stay, 99) == (1.0, 1.0)
    assert canopy.sizes(stay, 100) == (0.75, 0.8)


def test_layers_end_where_crowns_do_and_are_a_metre_or_a_twelfth_of_the_height_thick():
    """Crowns of 1 to 3.5 m: the 2.5 m between in three; a tree of 24 m in layers of 2 m."""
    low, tall = (Crown((0.0,), (1.0,), 1.0, base, top, 0.5) for base, top in ((1.0, 3.5), (0.0, 24.0)))
    assert _levels([low]) == pytest.approx([0, 1, 1 + 2.5 / 3, 1 + 5 / 3, 3.5])
    assert _levels([tall]).tolist() == list(range(0, 25, 2))
    assert _levels([low, tall])[:3].tolist() == [0, 1, 2.25]


@pytest.mark.parametrize("latitude", [-35.0, 10.0, 50.0])
@pytest.mark.parametrize("day", [20, 172, 300])
def test_the_sun_stands_in_the_east_in_the_morning_and_mirrored_in_the_west_in_the_evening(latitude, day):
    (height, evening), (azimuth, after) = position(latitude, day, np.array([9.0, 15.0]))
    assert 0 < azimuth < 180 < after < 360
    assert height == pytest.approx(evening) and azimuth + after == pytest.approx(360)
