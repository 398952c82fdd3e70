"""Wire sizes against ASTM B258 and the table of soft silicone wire."""

from __future__ import annotations

import math

import pytest

from inspector.errors import WireError
from inspector.wire import (
    SIZES,
    STRAND_MM,
    awg_area_mm2,
    awg_diameter_mm,
    check_od_mm,
    parse_wire,
    soft_silicone,
)

# ASTM B258's formula fixes 36 AWG at 5 mil and 4/0 (n = -3) at 460 mil
B258 = {8: (3.264, 8.366), 12: (2.053, 3.309), 16: (1.291, 1.309), 20: (0.812, 0.518)}


def test_the_two_fixed_points_of_the_gauge():
    assert awg_diameter_mm(36) == pytest.approx(0.005 * 25.4, rel=1e-12)
    assert awg_diameter_mm(-3) == pytest.approx(0.460 * 25.4, rel=1e-12)


@pytest.mark.parametrize("gauge", B258)
def test_diameter_and_area_of_solid_conductors(gauge):
    diameter, area = B258[gauge]
    assert awg_diameter_mm(gauge) == pytest.approx(diameter, abs=5e-4)
    assert awg_area_mm2(gauge) == pytest.approx(area, abs=2e-3)


@pytest.mark.parametrize("gauge", SIZES)
def test_a_bundle_is_as_wide_as_its_strands_make_it(gauge):
    wire = soft_silicone(gauge)
    assert wire.bundle_mm == pytest.approx(1.155 * STRAND_MM * math.sqrt(wire.strands), rel=0.02)
    assert wire.solid_mm < wire.bundle_mm < wire.overall_mm


@pytest.mark.parametrize("text", ["12 AWG", "12awg", "AWG 12", "awg12", " #12 ", "12", "12 ga"])
def test_ways_to_write_a_size(text):
    assert parse_wire(text).overall_mm == 4.5
    assert parse_wire(text).name == "12 AWG"


@pytest.mark.parametrize("text", ["", "12 mm", "AWG", "13", "-12", "120 AWG", "4.5", "12 AWG x"])
def test_what_is_no_size_gets_a_sentence(text):
    with pytest.raises(WireError) as caught:
        parse_wire(text)
    assert caught.value.hint


@pytest.mark.parametrize("value", [0.0, -1.0, 25.0, math.nan, math.inf])
def test_diameters_that_make_no_sense(value):
    with pytest.raises(WireError):
        check_od_mm(value)


def test_a_usable_diameter_is_returned():
    assert check_od_mm(4.5) == 4.5
