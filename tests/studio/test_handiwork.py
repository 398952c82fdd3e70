"""What varies between joints that are equally good: by chance of its own, within its bounds."""

from __future__ import annotations

from dataclasses import fields, replace
from itertools import pairwise

import numpy as np
import pytest

from sample_images.studio import handiwork, sample
from sample_images.studio.bundle import SMOOTH, STRAND_MM, bundle_mesh
from sample_images.studio.solder_parts import solder_parts
from sample_images.studio.solder_surfaces import FINE, lumps, pool, strands_under
from sample_images.studio.spec import Spot
from sample_images.studio.terminal import wall
from sample_images.studio.wire_parts import conductor_parts


def vars_of(spec):
    return [f.name for f in fields(spec)]


SPECS = [sample.sound(np.random.default_rng(k), "train") for k in range(200)]
HALF_OPEN = [s for s in SPECS if s.cup.cut == "half" and s.supply and s.relief > SMOOTH][:10]


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
    assert 0.15 < (relief == handiwork.SMOOTH).mean() < 0.4
    assert 0.35 < (height == 0).mean() < 0.65
    assert height.max() <= handiwork.RIPPLE[1]


@pytest.mark.parametrize("cut", ["half", "scoop", "window"])
def test_every_opening_lies_within_its_reach_and_keeps_its_widest(cut):
    cups = {s.cup for s in SPECS if s.cup.cut == cut}
    assert len(cups) > 10
    for cup in cups:
        x = np.linspace(0, cup.depth, 400)
        opening = cup.opening(x)
        assert opening[x > cup.reach * cup.depth + 1e-9].max(initial=0.0) < 1e-3
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


@pytest.mark.parametrize("kind", ["lumpy", "grainy", "wrinkled"])
def test_ripples_are_far_less_than_what_is_rough(kind):
    """Against the least rough solder that is clearly bad (0.5; see limits), in height and slope."""
    spec = replace(SPECS[0], rough=0.0, ripple=(0.0, 1.0), rough_kind=kind)
    points = np.random.default_rng(0).uniform(-2, 2, (4000, 3))
    ahead = points + np.array([1e-4, 0, 0])

    def of(changed):
        height = lumps(changed, points, 3) - lumps(spec, points, 3)
        further = lumps(changed, ahead, 3) - lumps(spec, ahead, 3)
        return height.std(), (further - height).std() / 1e-4

    most = replace(spec, ripple=(handiwork.RIPPLE[1], handiwork.RIPPLE_SCALE[0]))
    ripple, rough = of(most), of(replace(spec, rough=0.5))
    assert 0 < ripple[0] < 0.3 * rough[0]
    assert ripple[1] < 0.35 * rough[1]


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


def test_the_colour_turns_over_the_length_it_is_given():
    """As many places are neither copper nor solder as the length says, tenfold for tenfold."""
    spec = replace(SPECS[3], tinned=0.5, gap_mm=4.0, birdcage=0.0)

    def between(blush_mm):
        made = conductor_parts(replace(spec, blush_mm=blush_mm), np.random.default_rng(1))
        rgb = np.concatenate([p.colors[np.unique(p.faces)] for p in made if p.colors is not None])
        warm = rgb[:, 0] - rgb[:, 2]
        return ((warm > 0.3 * warm.max()) & (warm < 0.6 * warm.max())).sum()

    assert between(0.8) > 4 * between(0.08) > 0


def test_a_wire_in_a_cup_that_is_open_to_its_floor_is_in_to_the_full():
    open_ones = [s for s in SPECS if s.cup.cut == "half" and s.cup.reach >= 1.0]
    assert len(open_ones) > 5
    assert min(s.seat for s in open_ones) >= handiwork.FULLY_IN[0]


def test_all_else_about_a_joint_stays_as_it_was():
    own = {"relief", "lay_mm", "ropes", "ripple", "blush_mm", "seat", "clump"}
    nothing = {"relief": 0.0, "lay_mm": 30.0, "ropes": 1.0, "ripple": (0.0, 1.0), "clump": 1.0}
    for spec in SPECS[:20]:
        plain = replace(spec, **nothing, blush_mm=0.0)
        after = handiwork.by_hand(plain)
        same = {f for f in vars_of(plain) if getattr(plain, f) == getattr(after, f)}
        assert set(vars_of(plain)) - same <= own


def test_a_tinned_bundle_that_shows_its_lay_is_no_mirror():
    spec = replace(SPECS[3], tinned=1.3, relief=0.8, birdcage=0.0)
    parts = {p.name: p for p in conductor_parts(spec, np.random.default_rng(1))}
    assert parts["tinned strands"].material.roughness >= 0.3


@pytest.mark.parametrize("lay_mm", [9.0, 40.0])
@pytest.mark.parametrize("clump", [1.0, 2.5])
def test_strands_run_along_their_lay_however_tight(lay_mm, clump):
    """Every strand has its own ridge in each row, turned from the row before by the lay alone."""
    axis = np.column_stack([np.linspace(0, 10, 70), np.zeros(70), np.zeros(70)])
    v, _, _, phi = bundle_mesh(
        axis, 1.5, 1000, lay_mm=lay_mm, filled=lambda _x, p: 0 * p, seed=3, ropes=0.0, clump=clump
    )
    v, phi = v.reshape(70, -1, 3), phi.reshape(70, -1)
    assert np.diff(phi[:, 0]) == pytest.approx(-2 * np.pi * (10 / 69) / lay_mm)
    assert np.sin(phi) == pytest.approx(v[..., 1] / np.hypot(v[..., 1], v[..., 2]))
    r = np.hypot(v[..., 1], v[..., 2])
    ridges = (r > np.roll(r, 1, axis=1)) & (r >= np.roll(r, -1, axis=1))
    there = 2 * np.pi * 1.5 / STRAND_MM / clump
    assert ridges.sum(axis=1) == pytest.approx(there, rel=0.12)
    near = [np.corrcoef(a, b)[0, 1] for a, b in pairwise(r)]
    assert min(near) > 0.9


def test_single_strands_show_through_a_thin_coat_as_deep_as_said():
    spec = replace(SPECS[0], relief=1.0, ropes=0.0, clump=1.0, lay_mm=12.0)
    cy, cz = spec.offset
    phi = np.linspace(-0.4, 0.4, 2000)

    def under(coat_mm, **how):
        r = spec.core_mm + coat_mm
        at = np.stack([np.full_like(phi, 0.3), cy + r * np.sin(phi), cz + r * np.cos(phi)], -1)
        return strands_under(spec, at, 3, **how)

    height = under(0.0, singly=True)
    many = (np.diff(np.sign(np.diff(height))) < 0).sum()
    assert many == pytest.approx(0.8 * spec.core_mm / STRAND_MM, abs=1.5)
    assert np.ptp(height) == pytest.approx(0.3 * STRAND_MM * (1 - SMOOTH), rel=0.02)
    assert np.ptp(under(STRAND_MM, singly=True)) == pytest.approx(np.ptp(height) / 2, rel=0.02)
    assert not under(3 * STRAND_MM, singly=True).any()
    assert not under(0.0).any()  # a coarse surface has the groups alone, and here are none


def test_what_hangs_on_the_solder_hangs_where_it_would_on_smooth_solder():
    """A finer grid of the pool must not draw the pits and spikes to it."""
    assert len(HALF_OPEN) == 10
    for spec in HALF_OPEN:
        spiked = replace(spec, spikes=(Spot(0.5, 0.0, 1.0),) * 300)
        smooth = replace(spiked, relief=SMOOTH)
        found = [solder_parts(s, np.random.default_rng(5))[3] for s in (spiked, smooth)]
        in_cup = [np.mean([line[0][0] > 0 for line in spikes]) for spikes in found]
        assert in_cup[0] < in_cup[1] + 0.1  # relief turns some of it away from the camera
        fine, coarse = (
            next(p for p in solder_parts(s, np.random.default_rng(5))[0] if p.name == "pool")
            for s in (spiked, smooth)
        )
        assert len(fine.vertices) > 5 * len(coarse.vertices)


def test_truth_does_not_hang_on_how_finely_the_pool_is_drawn():
    for spec in HALF_OPEN:
        of = [
            solder_parts(s, np.random.default_rng(5))[1]
            for s in (spec, replace(spec, relief=SMOOTH))
        ]
        for a, b in zip(*of, strict=True):
            assert a.on == b.on
            assert a.points == pytest.approx(b.points, abs=0.1, nan_ok=True)  # the fillet has ropes
            assert (a.wet == b.wet).all()


def test_single_strands_show_in_the_fine_pool_alone_and_run_with_the_bundles():
    spec = next(s for s in SPECS if s.cup.cut == "half" and s.supply and s.relief > 0.6)
    spec = replace(spec, ropes=0.0, lay_mm=10.0)
    drawn = pool(spec, 1, singly=True)[0].vertices.reshape(*FINE, 3)
    calm = pool(replace(spec, relief=SMOOTH), 1, singly=True)[0].vertices.reshape(*FINE, 3)
    rise = drawn[..., 2] - calm[..., 2]
    assert np.ptp(rise) > 0.5 * 0.3 * STRAND_MM * (spec.relief - SMOOTH)
    coarse = (pool(s, 1)[0].vertices for s in (spec, replace(spec, relief=SMOOTH)))
    assert next(coarse) == pytest.approx(next(coarse), abs=1e-9)
    # along one strand of the bundle, whose angle falls with x, the rise stays what it is
    cy, cz = spec.offset
    x = np.linspace(0.2, 0.6 * spec.seat * spec.cup.depth, 50)
    for start in np.linspace(0.0, 2 * np.pi, 12):
        phi = start - 2 * np.pi * x / spec.lay_mm
        y, z = (c + spec.core_mm * f(phi) for c, f in ((cy, np.sin), (cz, np.cos)))
        along = strands_under(spec, np.stack([x, y, z], -1), 1, singly=True)
        assert np.ptp(along) < 1e-9


def test_strands_that_cling_together_are_fewer():
    spec = replace(SPECS[3], birdcage=0.0)
    one, many = (
        len(conductor_parts(replace(spec, clump=c), np.random.default_rng(1))[0].vertices)
        for c in (1.0, 2.0)
    )
    assert many == pytest.approx(one / 2, rel=0.05)
    assert 0.3 < np.mean([s.clump > 1.0 for s in SPECS]) < 0.7
    assert max(s.clump for s in SPECS) <= handiwork.CLUMP[1]
