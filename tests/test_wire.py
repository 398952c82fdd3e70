"""Wire sizes against ASTM B258 and the table of soft silicone wire."""

from __future__ import annotations

import math

import pytest

from inspector.errors import WireError
from inspector.wire import (
    SIZES,
    STRAND_MM,
    check_od_mm,
    parse_wire,
    soft_silicone,
)


@pytest.mark.parametrize("gauge", SIZES)
def test_a_bundle_is_as_wide_as_its_strands_make_it(gauge):
    wire = soft_silicone(gauge)
    assert wire.bundle_mm == pytest.approx(1.155 * STRAND_MM * math.sqrt(wire.strands), rel=0.02)
    solid_mm = 0.127 * 92 ** ((36 - gauge) / 39)  # solid conductor, ASTM B258 (quoted)
    assert solid_mm < wire.bundle_mm < wire.overall_mm


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
