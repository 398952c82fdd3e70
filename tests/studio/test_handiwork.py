"""What varies between joints that are equally good: by chance of its own, within its bounds."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from sample_images.studio import handiwork, sample
from sample_images.studio.solder_surfaces import lumps
from sample_images.studio.terminal import wall
from sample_images.studio.wire_parts import conductor_parts

SPECS = [sample.sound(np.random.default_rng(k), "train") for k in range(200)]


def test_a_joint_is_always_worked_the_same_way():
    spec = SPECS[0]
    assert handiwork.by_hand(spec) == handiwork.by_hand(spec)
    assert handiwork.as_turned(spec.cup) == handiwork.as_turned(spec.cup)


def test_lay_relief_and_ripples_vary_within_their_bounds():
    lay = np.array([s.lay_mm / (2 * s.core_mm) for s in SPECS])
    relief = np.array([s.relief for s in SPECS])
    height = np.array([s.ripple[0] for s in SPECS])
    assert 0.3 < (lay < handiwork.HAND_LAY[1]).mean() < 0.8
    assert lay.min() > 2
    assert handiwork.SMOOTH <= relief.min() < relief.max() <= handiwork.MOST_RELIEF
    assert 0.2 < (relief == handiwork.SMOOTH).mean() < 0.5
    assert 0.35 < (height == 0).mean() < 0.65
    assert height.max() <= handiwork.RIPPLE[1]


@pytest.mark.parametrize("cut", ["half", "scoop", "window"])
def test_every_opening_lies_within_its_reach_and_keeps_its_widest(cut):
    cups = {s.cup for s in SPECS if s.cup.cut == cut}
    assert len(cups) > 10
    for cup in cups:
        x = np.linspace(0, cup.depth, 400)
        opening = cup.opening(x)
        assert (opening[x > cup.reach * cup.depth + 1e-9] == 0).all() or cut == "window"
        assert opening.max() == pytest.approx(np.radians(cup.width_deg), rel=0.02)
        v, f, inside = wall(cup)
        assert np.isfinite(v).all()
        assert f.max() < len(v)
        assert inside.any()


def test_some_half_open_cups_end_square_and_some_at_the_floor():
    cups = [s.cup for s in SPECS if s.cup.cut == "half"]
    square = [c for c in cups if c.closing < 0.16]
    assert 0.3 < len(square) / len(cups) < 0.8
    assert any(c.reach == 1.0 for c in square)
    for cup in square:
        open_to = (1 - cup.closing) * cup.reach * cup.depth
        assert cup.opening(np.array(0.99 * open_to)) == pytest.approx(np.radians(cup.width_deg))


def test_ripples_are_far_less_than_what_is_rough():
    """Against the displacement of the least lumpy solder that is clearly bad (0.5; see limits)."""
    spec = replace(SPECS[0], rough=0.0, ripple=(0.0, 1.0))
    points = np.random.default_rng(0).uniform(-2, 2, (4000, 3))
    calm = lumps(spec, points, 3)
    ripple = lumps(replace(spec, ripple=(handiwork.RIPPLE[1], 0.2)), points, 3) - calm
    rough = lumps(replace(spec, rough=0.5), points, 3) - calm
    assert 0 < ripple.std() < 0.4 * rough.std()


def test_copper_turns_into_the_solders_colour_bit_by_bit():
    spec = replace(SPECS[3], tinned=0.5, gap_mm=3.0, blush_mm=0.5, birdcage=0.0)
    parts = {p.name: p for p in conductor_parts(spec, np.random.default_rng(1))}
    bare, tinned = parts["bare strands"], parts["tinned strands"]
    warm = [p.colors[p.faces].mean(axis=(0, 1)) for p in (bare, tinned)]
    assert warm[0][0] - warm[0][2] > warm[1][0] - warm[1][2] + 0.05
    plain = {p.name: p for p in conductor_parts(replace(spec, blush_mm=0.0),
                                                np.random.default_rng(1))}  # fmt: skip
    assert plain["tinned strands"].colors is None
    assert len(bare.faces) == len(plain["bare strands"].faces)  # truth hangs on no colour


def test_a_tinned_bundle_that_shows_its_lay_is_no_mirror():
    spec = replace(SPECS[3], tinned=1.3, relief=0.8, birdcage=0.0)
    parts = {p.name: p for p in conductor_parts(spec, np.random.default_rng(1))}
    assert parts["tinned strands"].material.roughness >= 0.3
