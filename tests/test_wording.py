"""Sides as the reader sees them in the picture."""

from __future__ import annotations

import pytest

from inspector import wording
from inspector.checks import fillet, stray_strand
from inspector.model import Measurement, Quantity
from inspector.settings import Settings


@pytest.mark.parametrize(
    ("axis", "left", "right"),
    [
        ((1.0, 0.0), "upper", "lower"),  # the wire comes from the left
        ((-1.0, 0.0), "lower", "upper"),
        ((0.0, 1.0), "right", "left"),  # from the top
        ((0.0, -1.0), "left", "right"),
        ((0.6, 0.8), "right", "left"),
        ((0.7071, 0.7071), "upper", "lower"),
    ],
)
def test_sides_are_those_of_the_picture(axis, left, right):
    assert wording.side_in_picture("left", axis) == left
    assert wording.side_in_picture("right", axis) == right


def test_every_sentence_on_a_side_of_the_fillet_is_turned():
    upside_down = (-1.0, 0.0)
    for limit in fillet.LIMITS:
        there = "lower" if limit.name.endswith("-left") else "upper"
        said = wording.in_picture(limit.reason, upside_down)
        assert f"On the {there} side in the picture" in said
        assert "left" not in said
        assert "right" not in said
        named = f"Fillet: {limit.name.replace('-', ' ')} 0.1, limit"
        assert f"on the {there} side in the picture 0.1" in wording.in_picture(named, upside_down)


def test_a_side_that_is_its_own_in_the_picture_is_said_to_be_so():
    said = wording.in_picture("On the left side it bulges.", (0.0, -1.0))
    assert said == "On the left side in the picture it bulges."


def test_two_sides_are_of_one_picture():
    said = wording.in_picture("none on the left side; none on the right side", (1.0, 0.0))
    assert said == "none on the upper side in the picture; none on the lower side"


def test_a_sentence_without_sides_stays():
    text = "Insulation gap: gap left out, 0.5 D."
    assert wording.in_picture(text, (1.0, 0.0)) == text


def test_a_doubt_whether_it_is_there_names_the_thing_with_size_and_uncertainty():
    limit = next(m for m in stray_strand.LIMITS if m.name == "length-in-D")
    item = Measurement("length-in-D", Quantity(0.09, 0.3, "D"), (), presence=0.5)
    said = wording.doubt_words(item, limit, Settings())
    assert said == "a stray strand, 0.1 D (0 to 0.7 D), may be there; limit <= 0.11 D"


@pytest.mark.parametrize(
    ("value", "standard", "unit", "text"),
    [
        (13.0, 33.5, "%", "13 % (0 to 80 %)"),
        (42.0, 38.5, "%", "42 % (0 to 100 %)"),
        (98.0, 3.0, "%", "98 % (92 to 100 %)"),
        (16.6, 0.85, "%", "16.6 ± 1.7 %"),
        (113.0, 2.0, "%", "113 ± 4 %"),  # of the spacing that is needed
        (0.0, 0.3, "D", "0.0 D (0 to 0.6 D)"),
        (0.089, 0.05, "D", "0.09 D (0 to 0.19 D)"),
        (1.2, 0.7, "mm", "1.2 mm (0 to 2.6 mm)"),
        (0.6, 0.04, "D", "0.60 ± 0.08 D"),
        (-0.1, 0.2, "D", "-0.1 ± 0.4 D"),
        (0.02, 0.05, "chord", "0.02 ± 0.10 of the chord"),
        (10.0, 8.0, "deg", "10 ± 16°"),
        (0.1, 1.0, "conductor diameters", "0.1 conductor diameters (0 to 2.1)"),
    ],
)
def test_no_interval_goes_where_nothing_can_be(value, standard, unit, text):
    q = Quantity(value, standard, unit)
    assert wording.quantity_text(q) == text


@pytest.mark.parametrize(
    ("value", "presence", "text"),
    [
        (1.57, 0.29, "1.57 ± 0.14 D, if there at all: 29 %"),
        (1.57, 0.97, "1.57 ± 0.14 D"),
        (0.0, 0.29, "0.00 D (0 to 0.14 D)"),
    ],
)
def test_what_may_not_be_there_is_said_with_how_likely_it_is(value, presence, text):
    item = Measurement("melt", Quantity(value, 0.07, "D"), (), presence)
    assert wording.measured_text(item) == text
