"""What the studio writes a second time agrees with the measuring code and with the sources."""

from __future__ import annotations

import numpy as np
import pytest

from inspector import wire
from inspector.model import Mark, Region
from sample_images.studio import bundle, limits, materials, part, sample


def test_wires_are_those_of_the_wire_table():
    for gauge, (strands, bundle_mm, overall_mm) in sample.WIRES.items():
        known = wire.soft_silicone(gauge)
        assert (strands, bundle_mm, overall_mm) == (
            known.strands, known.bundle_mm, known.overall_mm,
        )  # fmt: skip
    assert bundle.STRAND_MM == wire.STRAND_MM


def test_bundles_follow_from_their_strands_and_hold_the_gauges_copper():
    for gauge, (strands, bundle_mm, overall_mm) in sample.WIRES.items():
        assert bundle_mm == pytest.approx(1.155 * 0.08 * np.sqrt(strands), rel=0.025)
        area = strands * np.pi / 4 * 0.08**2
        # ASTM B258; soft wire may run a tenth under or over
        solid = np.pi / 4 * (0.127 * 92 ** ((36 - gauge) / 39)) ** 2
        assert area == pytest.approx(solid, rel=0.1)
        assert 1.6 < overall_mm / bundle_mm < 2.1


def test_labels_and_marks_are_those_of_the_data_contract():
    for region in Region:
        assert getattr(part, region.name) == region.value
    assert [m.name.lower() for m in Mark] == list(part.MARK_NAMES)
    for mark in list(Mark)[Mark.MOUTH :]:
        assert getattr(part, mark.name) == 1 << mark.value


@pytest.mark.parametrize(("metal", "ratio"), [("copper", 1.74), ("gold", 2.35), ("lead", 0.95)])
def test_red_over_blue_of_the_metals(metal, ratio):
    # derived from the optical constants of Johnson and Christy 1972 and Mathewson and Myers 1971;
    # as the constants are given to two decimals, a reflectance holds to about half a per cent
    red, _, blue = materials.metal_rgb(metal)
    assert red / blue == pytest.approx(ratio, rel=0.01)


def test_reflectance_of_glass_and_of_a_perfect_mirror():
    assert materials.reflectance(1.5, 0.0) == pytest.approx(0.04)
    assert materials.reflectance(0.0, 3.0) == pytest.approx(1.0)


@pytest.mark.parametrize(
    ("value", "state"),
    [
        (None, "not-seen"),
        (1.0, "sound"),
        (1.53, "sound"),
        (1.6, "near"),
        (2.5, "near"),
        (2.61, "bad"),
    ],
)
def test_clearness_of_a_maximum(value, state):
    assert limits.at_most(value, 2.0) == state


@pytest.mark.parametrize(
    ("value", "state"),
    [(None, "not-seen"), (0.52, "bad"), (0.55, "near"), (0.85, "near"), (0.91, "sound")],
)
def test_clearness_of_a_minimum_share(value, state):
    assert limits.at_least(value, 0.75) == state


@pytest.mark.parametrize(
    ("value", "state"),
    [(None, "not-seen"), (0.0, "sound"), (0.4, "near"), (0.99, "near"), (1.0, "bad")],
)
def test_clearness_of_none_allowed(value, state):
    assert limits.none_of(value, 0.5) == state
