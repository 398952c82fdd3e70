"""Checks on drawn joints give back the values that the joints were drawn with."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings, strategies as st

from inspector import checks, kinds
from inspector.checks import (
    excess_solder,
    fillet,
    insulation_gap,
    seating,
    solder_fill,
    wetting,
)
from inspector.joints import find_joints
from inspector.model import Job, Mark, Measurement, NotMeasured, Region, Scale, View
from tests.cups import SIZE, near, turned, value, view
from tests.drawn import draw

MEASURES = (insulation_gap, solder_fill, wetting, fillet, excess_solder, seating)


@settings(max_examples=15, deadline=None)
@given(angle=st.floats(0, 360), gap=st.floats(0, 2.0), d_px=st.floats(30, 62))
def test_gap(angle, gap, d_px):
    found = insulation_gap.measure(view(turned(angle, gap=gap), d_px))
    # two edges, each known to half a pixel: the map has no finer ones along an axis
    near(value(found, "gap"), gap, max(0.02, 1 / d_px))


def test_gap_in_mm_follows_the_scale():
    scale = Scale(0.05, 0.001, "mat")
    found = insulation_gap.measure(view(turned(0, gap=1.2), 60, scale))
    near(value(found, "gap_mm"), 1.2 * 60 * 0.05, 0.05)
    assert value(found, "gap_mm").quantity.parts["scale"] == pytest.approx(3.6 * 0.02, rel=0.02)
    names = {item.name for item in insulation_gap.measure(view(turned(0)))}
    assert "gap_mm" not in names


@pytest.mark.parametrize("angle", [0, 35, 90, 213])
def test_embedded_insulation(angle):
    found = insulation_gap.measure(view(turned(angle, embedded=0.3, gap=1.2)))
    near(value(found, "embedded"), 9.0, 1.0)
    sound = insulation_gap.measure(view(turned(angle)))
    near(value(sound, "embedded"), 0.0, 0.01)


@settings(max_examples=12, deadline=None)
@given(angle=st.floats(0, 360), short=st.floats(0, 0.7))
def test_fill(angle, short):
    found = solder_fill.measure(view(turned(angle, short=short)))
    near(value(found, "fill"), 100 * (1 - short), 2.0)


def test_fill_of_a_closed_cup_is_not_measured():
    (found,) = solder_fill.measure(view(turned(10, mouth=False)))
    assert isinstance(found, NotMeasured)


@settings(max_examples=12, deadline=None)
@given(angle=st.floats(0, 360), dry=st.floats(0.1, 0.9))
def test_wetting(angle, dry):
    cup = turned(angle, dry=dry)
    # the line: around the fillet's foot, across the lip outside the opening, around the opening
    length = 2 * cup.core + 2 * 0.2 * cup.outer + 2 * cup.depth + 1.6 * cup.outer
    found = wetting.measure(view(cup))
    near(value(found, "wetted"), 100 * (1 - 2 * dry * cup.depth / length), 5.0)
    near(value(found, "dry-stretch"), dry * cup.depth / (2 * cup.core), 0.15)


@pytest.mark.parametrize("dry", [0.3, 0.6])
def test_what_else_may_be_dry_widens_the_longest_stretch(dry):
    two = value(wetting.measure(view(turned(20, dry=dry))), "dry-stretch").quantity
    # two stretches of the same length; half of the other may be one with the longest
    assert two.parts["joined"] == pytest.approx(0.5 * two.value, rel=0.25)
    none = value(wetting.measure(view(turned(20, dry=0.0))), "dry-stretch").quantity
    assert none.parts["joined"] < 0.02
    assert two.standard_uncertainty > 2 * none.standard_uncertainty


def test_wetting_without_solder_is_none():
    found = wetting.measure(view(turned(40, solder=False, toe=0.8)))
    assert value(found, "wetted").quantity.value == 0
    assert value(found, "dry-stretch").quantity.value > 1


@pytest.mark.parametrize("angle", [0, 30, 90, 200, 311])
def test_solder_outside_the_terminal(angle):
    found = excess_solder.measure(view(turned(angle, bulge=0.3)))
    near(value(found, "outside"), 0.3, 0.04)
    sound = excess_solder.measure(view(turned(angle)))
    assert value(sound, "outside").quantity.value < 0.03
    assert value(sound, "on-insulation").quantity.value < 0.2


def test_solder_over_the_insulation():
    found = excess_solder.measure(view(turned(25, over=0.4)))
    # 0.4 D long and as wide as the wire (solder seen past it is not on it), less 0.04 D and the
    # bow of an end seen askew: half an ellipse 0.27 D deep
    truth = 0.36 - 0.27 * np.pi / 4
    near(value(found, "on-insulation"), 100 * truth, 1.5)


@settings(max_examples=10, deadline=None)
@given(angle=st.floats(0, 360), toe=st.floats(0.2, 0.95))
def test_seating(angle, toe):
    found = seating.measure(view(turned(angle, toe=toe)))
    near(value(found, "reach"), 100 * toe, 3.0)


def test_seating_under_solder_is_not_measured():
    (found,) = seating.measure(view(turned(0)))
    assert isinstance(found, NotMeasured)
    assert "covers" in found.because


def test_every_measurement_has_a_limit_a_place_and_parts():
    cup = turned(17, bulge=0.3, short=0.4, toe=0.5, dry=0.6, embedded=0.2)
    subject = view(cup, scale=Scale(0.05, 0.001, "mat"))
    for module in MEASURES:
        limits = {limit.name for limit in module.CHECK.limits}
        for item in module.CHECK.measure(subject):
            assert item.name in limits
            if isinstance(item, Measurement):
                q = item.quantity
                assert np.isfinite(q.value)
                assert q.standard_uncertainty > 0 or q.value in {0, 100}
                assert q.parts
                for evidence in item.evidence:
                    assert evidence.points.ndim == 2
                    assert np.isfinite(evidence.points).all()


def test_evidence_is_in_photo_pixels():
    subject = view(turned(0, gap=1.2))
    moved = replace(subject.joint.patch, origin=(1000.0, 500.0), step=2.0)
    there = replace(subject, joint=replace(subject.joint, patch=moved))
    here = value(insulation_gap.measure(subject), "gap").evidence[0].points
    assert value(insulation_gap.measure(there), "gap").evidence[0].points == pytest.approx(
        here * 2 + (1000, 500)
    )


def test_a_sleeved_joint_measures_nothing_under_the_sleeve():
    subject = view(turned(0, sleeve=(0.2, 0.9)))
    for module in (insulation_gap, solder_fill, wetting, excess_solder, seating):
        assert all(isinstance(item, NotMeasured) for item in module.measure(subject))


@pytest.mark.parametrize("share", [0.02, 0.2, 0.6])  # apart: it is slow, and runs on two cores
def test_nothing_crashes_on_scrambled_maps(share):
    rng = np.random.default_rng(7)
    patch = draw([turned(30, short=0.3, toe=0.4)], 60, SIZE)
    noise = rng.random(patch.labels.shape) < share
    labels = np.where(noise, rng.integers(0, 8, patch.labels.shape), patch.labels)
    marks = np.where(noise, rng.random(patch.labels.shape), patch.marks).astype(np.float32)
    scrambled = replace(patch, labels=labels.astype(np.uint8), marks=marks)
    for joint in find_joints(scrambled, "cup"):
        subject = View(joint, (), Scale(None, None, "none"), Job())
        for module in MEASURES:
            for item in module.measure(subject):
                if isinstance(item, Measurement):
                    assert np.isfinite(item.quantity.value)
                    assert np.isfinite(item.quantity.standard_uncertainty)


def test_the_kind_names_checks_that_exist():
    known = checks.registry()
    assert list(known) == sorted(known)
    for kind in kinds.registry().values():
        assert set(kind.checks) <= set(known)
        assert kind.needed | kind.needed_beside <= set(kind.checks)
        assert kind.needs(poles=1) < kind.needs(poles=2)


def test_pages_say_what_why_how_limit_and_remedy():
    for check in checks.registry().values():
        for heading in ("What", "Why", "Limit", "Remedy"):
            assert heading in check.page, (check.name, heading)


@pytest.mark.parametrize("angle", [0, 70, 200])
def test_a_void_that_is_taken_for_ground_is_not_filled(angle):
    cup = turned(angle)
    seen = view(cup)
    labels = seen.joint.patch.labels.copy()
    ys, xs = np.indices(labels.shape)
    s, t = np.moveaxis(seen.joint.to_frame(np.stack([xs, ys], axis=-1).reshape(-1, 2)), -1, 0)
    void = ((s > 1.4) & (s < 1.9) & (np.abs(t) < 0.2)).reshape(labels.shape)
    labels[void] = Region.BACKGROUND
    marks = seen.joint.patch.marks.copy()
    marks[Mark.SHORT][void] = 1.0
    patch = replace(seen.joint.patch, labels=labels, marks=marks)
    joint = replace(seen.joint, patch=patch, own=seen.joint.own & ~void)
    share = 100 * 0.5 * 0.4 / (cup.depth * 1.6 * cup.outer)
    near(value(solder_fill.measure(replace(seen, joint=joint)), "fill"), 100 - share, 3.0)
