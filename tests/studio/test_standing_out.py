"""What stands out from what lies beside it: thresholds by hand, lines in drawn fields."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import norm

from sample_images.studio import part as pt
from sample_images.studio.buffers import Buffers
from sample_images.studio.standing_out import ALIKE, along, differs, haze_of, singular

SHAPE = (60, 80)
Y, X = np.mgrid[:60, :80].astype(float)
DARK, LIGHT = 0.1, 0.4
RUN = 10.0


def grey(*values):
    """Pixels of one grey each."""
    return np.repeat(np.array(values, float)[:, None], 3, axis=1)


def buffers(light):
    """Bare wire of joint 1 all over; its radiance (h, w) as given, grey."""
    return Buffers(
        np.repeat(light[..., None], 3, axis=2).astype(np.float32),
        np.full(SHAPE, pt.CONDUCTOR, np.uint8), np.zeros(SHAPE, np.uint16),
        np.ones(SHAPE, np.uint8), np.full(SHAPE, 100, np.float32),
    )  # fmt: skip


def straight(angle_deg, reach=25.0):
    """Points of a straight line through the field's middle, and each pixel's distance from it."""
    ahead = np.array([np.cos(np.radians(angle_deg)), np.sin(np.radians(angle_deg))])
    middle = np.array([39.5, 30.5])
    xy = middle + np.linspace(-reach, reach, 101)[:, None] * ahead
    return xy, (Y - middle[1]) * ahead[0] - (X - middle[0]) * ahead[1]


def shows(made, xy, half=1.0, run=RUN):
    return along(made, xy, np.broadcast_to(half, len(xy)), run, 0.0)


@pytest.mark.parametrize("sign", [-1, 1])
@pytest.mark.parametrize("haze", [0.0, 0.1, 0.5])
def test_light_counts_from_a_log_ratio_of_035(sign, haze):
    def seen(ratio):
        other = 0.5
        return differs(grey(*[(other + haze) * np.exp(ratio) - haze] * 9), grey(*[other] * 9), haze)

    assert seen(sign * 0.351)
    assert not seen(sign * 0.349)


@pytest.mark.parametrize(
    ("sigma", "contrast"), [(0.15, 0.5), (0.2, 0.4), (0.3, 0.5), (0.4, 0.5), (0.6, 0.9)]
)
def test_the_pixels_it_takes_follow_rose(sigma, contrast):
    beside = grey(*np.exp(sigma * norm.ppf((np.arange(2001) + 0.5) / 2001)))
    counts = [n for n in range(1, 200) if differs(grey(*[np.exp(contrast)] * n), beside, 0.0)]
    assert counts[0] == pytest.approx(4 * (5 * sigma / contrast) ** 2, abs=1.01)
    assert counts == list(range(counts[0], 200))


def test_a_few_pixels_are_too_few():
    assert differs(grey(*[1.0] * 4), grey(*[0.1] * 4), 0.0)
    assert not differs(grey(*[1.0] * 3), grey(*[0.1] * 90), 0.0)
    assert not differs(grey(*[1.0] * 90), grey(*[0.1] * 3), 0.0)


@pytest.mark.parametrize("channel", [0, 1, 2])
def test_one_colour_is_enough(channel):
    inside, beside = np.full((2, 9, 3), 0.3)
    inside[:, channel] *= np.exp(0.4)
    assert differs(inside, beside, 0.0)
    # where the contrast is, a wild texture; where it is smooth, too little contrast
    beside[:, channel] *= np.exp(np.linspace(-3, 3, 9))
    inside[:, (channel + 1) % 3] *= np.exp(0.3)
    assert not differs(inside, beside, 0.0)


def test_haze_is_a_hundredth_of_the_joints_bright_metal():
    made = buffers(np.where(X < 40, 0.2, 0.8))
    assert haze_of(made, 1) == pytest.approx(0.008)
    label = np.where(X < 40, pt.CONDUCTOR, pt.INSULATION).astype(np.uint8)
    assert haze_of(replace(made, label=label), 1) == pytest.approx(0.002)
    joint = np.where(X < 40, 1, 2).astype(np.uint8)
    assert haze_of(replace(made, joint=joint), 1) == pytest.approx(0.002)
    assert haze_of(made, 3) == pytest.approx(0.008)  # no metal of its own: the picture's brightest


@pytest.mark.parametrize("angle", [0, 30, 90, 135])
@pytest.mark.parametrize(("line", "field"), [(LIGHT, DARK), (DARK, LIGHT)])
def test_a_line_on_a_flat_field_shows_all_along(angle, line, field):
    xy, off = straight(angle)
    assert shows(buffers(np.where(np.abs(off) < 1, line, field)), xy).all()
    assert not shows(buffers(np.full(SHAPE, field)), xy).any()


def test_half_a_line_in_the_fields_own_light_is_not_seen():
    xy, off = straight(0)
    got = shows(buffers(np.where((np.abs(off) < 1) & (X < 40), LIGHT, DARK)), xy)
    assert got[xy[:, 0] < 39].all()
    # a stretch shows while most of it is lit, so half a stretch more may count
    assert not got[xy[:, 0] > 40 + RUN / 2 + 1].any()
    assert got.mean() == pytest.approx(0.5, abs=RUN / 2 / 50 + 0.02)


@pytest.mark.parametrize("angle", [0, 30, 90, 135])
@pytest.mark.parametrize("half", [1.0, 2.0])
def test_an_edge_between_two_fields_is_no_line(angle, half):
    xy, off = straight(angle)
    assert not shows(buffers(np.where(off < 0, DARK, LIGHT)), xy, half).any()


@pytest.mark.parametrize(
    ("own", "seen"),
    [
        ((0.2, 0.2), True),  # lighter than what is above it, darker than what is below
        ((LIGHT, DARK), True),  # a mirror that shows each side the other
        ((DARK, DARK), False),
        ((LIGHT, LIGHT), False),
    ],
)
def test_each_side_of_a_cone_is_held_against_its_own_flank(own, seen):
    xy, off = straight(0)
    half = np.linspace(4, 1, len(xy))
    within = np.abs(off) < np.interp(X, xy[:, 0], half)
    light = np.where(within, np.where(off < 0, *own), np.where(off < 0, DARK, LIGHT))
    got = shows(buffers(light), xy, half)
    assert got.all() if seen else not got.any()


def test_in_a_texture_a_line_is_seen_by_its_length():
    xy, off = straight(0, 30.0)
    texture = np.exp(0.25 * np.random.default_rng(7).standard_normal(SHAPE))
    made = buffers(np.where(np.abs(off) < 1, np.exp(0.5), texture))
    # pixels of one side: as many as the stretch is long; 5 * 0.25 / 0.5 squared times 4 are 25
    assert not shows(made, xy, run=10).any()
    assert shows(made, xy, run=60).all()


@pytest.mark.parametrize("angle", [0, 30, 90])
def test_a_line_partly_outside_the_picture_shows_within(angle):
    xy, off = straight(angle, 100.0)
    got = shows(buffers(np.where(np.abs(off) < 1, LIGHT, DARK)), xy)
    away = np.maximum(-xy, xy - [79, 59]).max(axis=1)  # outside the picture, pixels
    assert got[away < -5].all()
    assert not got[away > RUN].any()
    assert not shows(buffers(np.full(SHAPE, LIGHT)), xy + 300).any()


@pytest.mark.parametrize(
    ("label", "mark", "seen"),
    [(pt.STRAND, 0, True), (pt.SOLDER, pt.SPIKE, True), (pt.SOLDER, pt.ROUGH, False)],
)
def test_a_strand_or_spike_beside_a_line_is_no_flank(label, mark, seen):
    xy, off = straight(0)
    beside = (off > 1) & (off < 4)  # in the line's own light; a row of the field is left beyond
    made = buffers(np.where((np.abs(off) < 1) | beside, LIGHT, DARK))
    made.label[beside], made.marks[beside] = label, mark
    got = shows(made, xy)
    assert got.all() if seen else not got.any()


def test_a_line_of_no_length_is_not_seen():
    made = buffers(np.where(np.abs(Y - 30) < 2, LIGHT, DARK))
    assert shows(made, np.empty((0, 2))).tolist() == []
    assert shows(made, np.array([[40.0, 30.0]])).tolist() == [False]
    assert shows(made, np.array([[40.0, 30.0], [40.4, 30.0]])).tolist() == [False, False]


def spot(x, y, r=3.0, wide=1.0):
    return np.hypot((X - x) / wide, Y - y) < r


def alone(light, at):
    return singular(np.repeat(light[..., None], 3, axis=2), at, ~at, 0.0)


def test_one_dark_dot_on_even_solder_is_singular_and_one_of_many_darker_ones_is_not():
    at = spot(40, 30)
    light = np.where(at, DARK, LIGHT)
    assert alone(light, at)
    mirrored = light.copy()
    for x in range(6, 80, 12):
        for y in range(6, 60, 12):
            mirrored[spot(x, y) & ~at] = DARK / 2
    assert not alone(mirrored, at)


def test_stripes_of_a_mirror_hide_a_crack_along_them_but_not_a_pit_darker_than_they():
    stripes = np.where((X // 4) % 2 < 1, LIGHT, DARK)
    crack = (np.abs(X - 41) < 2) & (np.abs(Y - 30) < 12)
    assert not alone(np.where(crack, DARK, stripes), crack)
    pit = spot(42, 30, 4.0)
    assert alone(np.where(pit, DARK / 8, stripes), pit)


def test_a_crack_is_compared_in_every_turn():
    stripes = np.where((Y // 4) % 2 < 1, LIGHT, DARK)
    crack = (np.abs(X - 41) < 2) & (np.abs(Y - 30) < 12)
    assert not alone(np.where(crack, DARK, stripes), crack)


def test_bright_dots_do_not_hide_a_dark_one():
    at = spot(40, 30)
    light = np.where(at, DARK, LIGHT)
    for x in range(6, 80, 12):
        light[spot(x, 12)] = LIGHT * LIGHT / DARK
    assert alone(light, at)


def test_where_too_little_surface_lies_beside_a_spot_it_counts():
    at = spot(40, 30)
    light = np.repeat(np.where(at, DARK, LIGHT)[..., None], 3, axis=2)
    few = spot(40, 30, 5.0) & ~at
    assert few.sum() < 10 * at.sum()
    assert singular(light, at, few, 0.0)


def test_one_in_two_hundred_of_the_places_may_look_alike():
    """One pixel, and others as dark that stand apart: each is one place in every turn."""
    assert pytest.approx(1 / 200) == ALIKE
    at = (X == 40) & (Y == 30)
    places = 60 * 80 - 1
    for many, told in ((int(ALIKE * places * 0.9), True), (int(ALIKE * places * 1.1), False)):
        light = np.full(SHAPE, LIGHT)
        light[at] = DARK
        light[6::6, 6::6].flat[:many] = 0.98 * DARK  # a tie would hang on rounding
        assert alone(light, at) is told
