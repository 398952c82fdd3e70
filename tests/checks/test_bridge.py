"""Bridge and spacing between two drawn poles."""

import pytest

from inspector.checks import bridge
from inspector.model import Mark, NotMeasured, Outcome, Region
from tests.defects import D_MM, PAIR, PLAIN, box, changed, measured, outcome


def test_spacing_of_two_sound_poles_is_the_connectors_own():
    found = measured(bridge, PAIR)["spacing"].quantity
    assert found.value >= 97.0
    assert outcome(bridge, PAIR) is Outcome.FINE


@pytest.mark.parametrize("left", [0.3, 0.6])
def test_solder_that_stands_toward_the_next_pole(left):
    own = 1.6 - 2 * 0.42  # D between the terminals
    needed = min(own, 1.6 / D_MM)
    tongue = box(1.2, 1.5, 0.3, 0.42 + own - left * needed)
    drawing = changed(PAIR, regions=((Region.SOLDER, [tongue]),))
    assert measured(bridge, drawing)["spacing"].quantity.value == pytest.approx(100 * left, abs=5)
    assert outcome(bridge, drawing) is Outcome.REWORK


def test_a_whole_bridge_leaves_no_spacing():
    drawing = changed(
        PAIR,
        regions=((Region.SOLDER, [box(1.2, 1.5, 0.3, 1.3)]),),
        marks=((Mark.BRIDGE, [box(1.2, 1.5, 0.42, 1.18)], 0.9),),
    )
    found = measured(bridge, drawing)
    assert found["spacing"].quantity.value < 6
    assert found["bridge"].quantity.value > 0.7
    assert outcome(bridge, drawing) is Outcome.REWORK


def test_poles_that_hide_each_other_are_not_measured():
    drawing = changed(PAIR, second=0.6)
    assert isinstance(measured(bridge, drawing)["spacing"], NotMeasured)
    assert outcome(bridge, drawing) is Outcome.NOT_SEEN


def test_poles_that_just_touch_in_the_picture_are_judged_by_the_marked_bridge():
    drawing = changed(PAIR, second=0.85)
    assert "spacing" not in measured(bridge, drawing)
    assert outcome(bridge, drawing) is Outcome.FINE


def test_a_pole_that_was_named_but_not_found_is_not_seen():
    assert outcome(bridge, changed(PLAIN, poles=2)) is Outcome.NOT_SEEN
    assert outcome(bridge, changed(PLAIN, poles=1)) is Outcome.FINE


def test_a_strand_toward_the_next_pole_is_no_lack_of_spacing():
    plain = measured(bridge, PAIR)["spacing"].quantity.value
    strand = changed(PAIR, regions=((Region.STRAND, [box(0.5, 0.53, 0.27, 1.2)]),))
    assert measured(bridge, strand)["spacing"].quantity.value == pytest.approx(plain, abs=0.5)
