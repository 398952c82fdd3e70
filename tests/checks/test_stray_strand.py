"""Strands of known length, drawn as arcs, at many angles and scales."""

import numpy as np
import pytest

from inspector.checks.stray_strand import CHECK, LIMIT_MM, measure
from inspector.model import NotMeasured, Outcome, Region
from inspector.one_check import judge_check
from inspector.settings import Settings
from tests.defects import Drawing, band, bow, box, by_name, changed, view

WIDE = 0.022  # a strand of 0.08 mm on a wire of 4.5 mm is 0.018 D
PLAIN = Drawing()


def strand(path, width=WIDE):
    return ((Region.STRAND, band(path, width)),)


def outcome(drawing):
    return judge_check(CHECK, measure(view(drawing)), Settings()).outcome


@pytest.mark.parametrize("angle", [0, 35, 90, 160, 250])
@pytest.mark.parametrize("d_px", [60, 96])
def test_length_of_an_arc_within_3_percent_plus_a_pixel(angle, d_px):
    for radius, turn in ((0.5, 120.0), (0.3, 200.0), (1.5, 40.0)):
        path = bow(radius, turn, (0.3, 0.27))
        drawing = changed(
            PLAIN, angle_deg=angle, d_px=d_px, end=(210, 210), regions=strand(path, 2.2 / d_px)
        )
        found = by_name(measure(view(drawing)))["length"].quantity
        true_mm = radius * np.radians(turn) * 4.5
        pixel_mm = 4.5 / d_px
        assert found.value == pytest.approx(true_mm, abs=0.03 * true_mm + 1.5 * pixel_mm)
        assert abs(found.value - true_mm) <= found.expanded_uncertainty
        assert outcome(drawing) is Outcome.REWORK


def test_sound_joint_is_fine_and_reads_zero():
    found = by_name(measure(view(PLAIN)))
    assert found["length"].quantity.value == 0.0
    assert "reach" not in found
    assert outcome(PLAIN) is Outcome.FINE


def test_none_seen_in_a_small_photo_is_a_doubt():
    tiny = changed(PLAIN, d_px=30, side=200, end=(100, 100))
    assert outcome(tiny) is Outcome.DOUBT
    assert outcome(changed(PLAIN, step=0.25)) is Outcome.DOUBT  # D is 24 px in the photo


def test_none_seen_grows_doubtful_steadily_as_the_photo_shrinks():
    chances = [
        judge_check(CHECK, measure(view(changed(PLAIN, step=step))), Settings()).conformance
        for step in (1.2, 0.9, 0.7, 0.5, 0.3)
    ]
    assert chances == sorted(chances, reverse=True)
    assert chances[0] > 0.95 > chances[-1]


@pytest.mark.parametrize("break_d", [0.05, 0.1, 0.2])
def test_a_strand_broken_by_glare_is_one_strand(break_d):
    path = bow(1.5, 60.0, (0.3, 0.27))
    size = 1.5 * np.radians(60.0)
    cut = len(path) // 2
    skip = round(break_d / size * len(path))
    pieces = band(path[:cut], WIDE) + band(path[cut + skip :], WIDE)
    found = by_name(measure(view(changed(PLAIN, regions=((Region.STRAND, pieces),)))))
    assert found["length"].quantity.value == pytest.approx(size * 4.5, rel=0.04)
    assert found["strands"].quantity.value == pytest.approx(0.95, abs=0.01)


def test_two_strands_from_one_root_are_two():
    both = band(bow(1.5, 35, (0.3, 0.26), 60), WIDE) + band(bow(1.5, 35, (0.3, 0.26), 120), WIDE)
    found = by_name(measure(view(changed(PLAIN, regions=((Region.STRAND, both),)))))
    assert found["strands"].quantity.value == pytest.approx(1.9, abs=0.05)
    true_mm = 1.5 * np.radians(35) * 4.5
    assert found["length"].quantity.value == pytest.approx(true_mm, rel=0.06)


def test_a_hair_on_the_bench_is_not_the_joints_and_a_near_one_is_a_doubt():
    far = changed(PLAIN, regions=strand([[0.2, 1.5], [1.0, 1.6]]))
    near = changed(PLAIN, regions=strand([[0.5, 0.75], [0.5, 1.5]]))
    assert outcome(far) is Outcome.FINE
    assert outcome(near) is Outcome.DOUBT


def test_what_the_network_half_believes_is_a_doubt():
    drawing = changed(PLAIN, regions=strand(bow(1.0, 40, (0.3, 0.26))), strand_sure=0.45)
    assert outcome(drawing) is Outcome.DOUBT


def test_reach_is_the_distance_from_the_outline():
    drawing = changed(PLAIN, regions=strand([[0.3, 0.26], [0.3, 1.26]]))
    found = by_name(measure(view(drawing)))
    # the nearest outline is the insulation's corner (0, 0.5)
    assert found["reach"].quantity.value == pytest.approx(4.5 * np.hypot(0.3, 0.76), abs=0.1)


def test_a_strand_that_could_be_bent_to_the_next_pole():
    pair = changed(PLAIN, second=2.0, end=(150.0, 150.0), side=460)
    short = changed(pair, regions=strand([[0.3, 0.26], [0.3, 0.40]]))
    far = changed(pair, regions=strand(bow(1.2, 100, (0.3, -0.27), -90)))
    assert by_name(measure(view(short)))["pole-margin"].quantity.value > 1.0
    found = by_name(measure(view(far)))
    # root to the other pole's metal: from t = -0.27 to 2.0 - 0.42 at most
    assert found["pole-margin"].quantity.value == pytest.approx(
        2.0 - 0.27 + 0.27 - 1.2 * np.radians(100), abs=0.12
    )


def test_the_other_poles_strand_is_not_this_ones():
    pair = changed(PLAIN, second=2.0, end=(150.0, 150.0), side=460)
    theirs = changed(pair, regions=strand([[0.3, 1.70], [0.3, 1.3]]))
    assert outcome(theirs) is Outcome.FINE


def test_without_a_wire_size_lengths_are_in_d_and_the_limit_is_uncertain():
    drawing = changed(PLAIN, d_mm=None, regions=strand([[0.3, 0.26], [0.3, 0.40]]))
    found = by_name(measure(view(drawing)))["length-in-D"].quantity
    assert found.unit == "D"
    assert found.value == pytest.approx(0.13, abs=0.02)
    assert outcome(drawing) is Outcome.DOUBT
    assert outcome(changed(PLAIN, d_mm=None)) is Outcome.FINE
    long = changed(PLAIN, d_mm=None, regions=strand([[0.3, 0.26], [0.3, 0.9]]))
    assert outcome(long) is Outcome.REWORK


def test_a_frayed_tuft_is_rework():
    tuft = changed(PLAIN, regions=((Region.STRAND, [box(0.2, 0.6, 0.27, 0.9)]),))
    assert outcome(tuft) is Outcome.REWORK


def test_no_metal_is_not_measured():
    bare = view(changed(PLAIN, regions=((Region.BACKGROUND, [box(-0.01, 4, -2, 2)]),)))
    assert isinstance(measure(bare)[0], NotMeasured)


def test_limit_is_the_published_one():
    assert {limit.value for limit in CHECK.limits if limit.unit == "mm"} == {LIMIT_MM}
