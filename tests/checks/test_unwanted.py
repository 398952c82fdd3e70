"""Spike, birdcage, surface and insulation damage on drawings of known size."""

import numpy as np
import pytest
from scipy import ndimage
from skimage.measure import regionprops

from inspector.areas import extent_d
from inspector.checks import birdcage, bridge, insulation_damage, spike, surface
from inspector.model import Mark, NotMeasured, Outcome, Region
from tests.defects import D_MM, PAIR, PLAIN, band, box, by_name, changed, measured, outcome, view

ANGLES = [0, 50, 135, 270]


def needle(height, half=0.06, at=1.4, root=0.30):
    """A pointed spike from the cup's rim outward; its height above the terminal's edge at 0.42."""
    top = 0.42 + height
    return np.array([[at - half, root], [at, top], [at + half, root]])


def spiked(height, chance=0.95, **more):
    shape = needle(height)
    return changed(
        PLAIN, regions=((Region.SOLDER, [shape]),), marks=((Mark.SPIKE, [shape], chance),), **more
    )


@pytest.mark.parametrize("check", [spike, bridge, birdcage, surface, insulation_damage])
@pytest.mark.parametrize("angle", ANGLES)
def test_a_sound_joint_is_fine(check, angle):
    assert outcome(check, changed(PLAIN, angle_deg=angle)) is Outcome.FINE


@pytest.mark.parametrize("check", [spike, birdcage, surface, insulation_damage])
def test_and_so_it_is_without_a_scale(check):
    assert outcome(check, changed(PLAIN, d_mm=None)) is Outcome.FINE


@pytest.mark.parametrize("angle", ANGLES)
@pytest.mark.parametrize("height", [0.25, 0.5])
def test_spike_height(angle, height):
    found = measured(spike, spiked(height, angle_deg=angle))["height"]
    # the drawn mark begins 0.12 D inside the terminal and ends where it is half a pixel wide
    true_mm = (height + 0.12) * (1 - 0.5 / (0.12 * 96)) * D_MM
    assert abs(found.quantity.value - true_mm) <= found.quantity.expanded_uncertainty
    assert found.quantity.expanded_uncertainty < 0.06 * D_MM
    assert outcome(spike, spiked(height, angle_deg=angle)) is Outcome.REWORK


def test_a_spike_half_believed_is_a_doubt_and_so_is_one_too_small_to_see():
    assert outcome(spike, spiked(0.4, chance=0.4)) is Outcome.DOUBT
    assert outcome(spike, changed(PLAIN, step=0.12)) is Outcome.DOUBT


def test_a_mark_on_the_bench_is_no_spike_of_the_joint():
    away = changed(PLAIN, marks=((Mark.SPIKE, [box(0.2, 0.4, 1.2, 1.4)], 0.95),))
    assert outcome(spike, away) is Outcome.FINE


@pytest.mark.parametrize("angle", ANGLES)
def test_birdcage_width(angle):
    for half, expected in ((0.4, Outcome.FINE), (0.65, Outcome.REWORK)):
        bulge = [box(0.3, 0.6, -half, half)]
        drawing = changed(PLAIN, angle_deg=angle, gap=1.2, regions=((Region.CONDUCTOR, bulge),))
        width = measured(birdcage, drawing)["width"].quantity
        assert width.value == pytest.approx(2 * half, abs=0.03)
        assert outcome(birdcage, drawing) is expected


def test_birdcage_counts_the_gaps_between_bars():
    bars = [
        p for t in (-0.6, -0.3, 0.3, 0.6) for p in band([[0.1, np.sign(t) * 0.25], [0.4, t]], 0.05)
    ]
    bars += [
        p for t in (-0.6, -0.3, 0.3, 0.6) for p in band([[0.4, t], [0.7, np.sign(t) * 0.25]], 0.05)
    ]
    drawing = changed(PLAIN, gap=1.2, regions=((Region.CONDUCTOR, bars),))
    assert measured(birdcage, drawing)["width"].quantity.value == pytest.approx(1.24, abs=0.05)


def test_no_bare_bundle_is_not_measured():
    assert isinstance(measured(birdcage, changed(PLAIN, gap=0.06))["width"], NotMeasured)


def test_fillet_wider_than_the_wire_is_no_birdcage():
    blob = changed(PLAIN, gap=1.2, regions=((Region.SOLDER, [box(0.8, 1.3, -0.7, 0.7)]),))
    assert measured(birdcage, blob)["width"].quantity.value < 0.7


@pytest.mark.parametrize("share", [0.1, 0.5])
def test_rough_share(share):
    drawing = changed(PLAIN, gap=0.0 + 1.0)
    solder = (view(drawing).joint.patch.labels == Region.SOLDER).sum()
    side = np.sqrt(share * solder) / drawing.d_px
    patch = box(1.05, 1.05 + side, -side / 2, side / 2)
    if side > 0.66:  # as wide as the cup's filling
        patch = box(1.0, 1.0 + side**2 / 0.66, -0.33, 0.33)
    rough = changed(drawing, marks=((Mark.ROUGH, [patch], 0.97),))
    assert measured(surface, rough)["rough"].quantity.value == pytest.approx(100 * share, rel=0.06)
    assert outcome(surface, rough) is (Outcome.REWORK if share > 0.15 else Outcome.FINE)


@pytest.mark.parametrize("size", [0.12, 0.2])
def test_hole_diameter(size):
    turn = np.linspace(0, 2 * np.pi, 40)
    disc = np.stack([1.5 + size / 2 * np.cos(turn), size / 2 * np.sin(turn)], -1)
    drawing = changed(PLAIN, marks=((Mark.HOLE, [disc], 0.95),))
    assert measured(surface, drawing)["hole"].quantity.value == pytest.approx(size, abs=0.015)
    assert outcome(surface, drawing) is Outcome.REWORK


@pytest.mark.parametrize("turn", [0, 20, 45, 90, 150])
def test_a_crack_is_as_long_whichever_way_it_lies(turn):
    along = np.array([np.cos(np.radians(turn)), np.sin(np.radians(turn))])
    across = np.array([-along[1], along[0]])
    corners = [(-0.25, -0.03), (0.25, -0.03), (0.25, 0.03), (-0.25, 0.03)]
    crack = np.array([(1.5, 0.0) + a * along + b * across for a, b in corners])
    drawing = changed(PLAIN, marks=((Mark.HOLE, [crack], 0.95),))
    found = measured(surface, drawing)["hole"].quantity.value
    assert found == pytest.approx(np.hypot(0.5, 0.06), abs=0.03)


def test_the_greatest_distance_agrees_with_scikit_image():
    blob = np.random.default_rng(3).random((60, 80)) < 0.004
    blob = ndimage.binary_dilation(blob, iterations=4)
    joint = view(PLAIN).joint
    (shape,) = regionprops(blob.astype(int))  # its corners, ours the middles of pixels
    assert extent_d(joint, blob) * joint.d_px == pytest.approx(shape.feret_diameter_max, abs=0.6)


def test_gloss_only_for_tin_lead_and_never_rework():
    assert "gloss" not in measured(surface, PLAIN)
    dull = changed(PLAIN, alloy="tin-lead")  # drawn solder has one flat grey
    assert measured(surface, dull)["gloss"].quantity.value == pytest.approx(0.0, abs=0.01)
    assert outcome(surface, dull) is Outcome.DOUBT


def test_no_solder_is_not_measured():
    bare = changed(PLAIN, regions=((Region.CONDUCTOR, [box(0.4, 2.4, -0.4, 0.4)]),))
    assert outcome(surface, bare) is Outcome.NOT_SEEN


@pytest.mark.parametrize("angle", ANGLES)
def test_char_extent(angle):
    burnt = [box(-0.4, 0.0, 0.1, 0.4)]  # half a D across from corner to corner
    drawing = changed(PLAIN, angle_deg=angle, marks=((Mark.CHAR, burnt, 0.95),))
    assert measured(insulation_damage, drawing)["char"].quantity.value == pytest.approx(
        0.5, abs=0.03
    )
    assert outcome(insulation_damage, drawing) is Outcome.REWORK


@pytest.mark.parametrize("angle", ANGLES)
def test_ragged_end(angle):
    beside = changed(PLAIN, angle_deg=angle, notch=(box(-0.45, 0.0, 0.31, 0.40),))
    on_the_wire = changed(
        PLAIN, angle_deg=angle, regions=((Region.CONDUCTOR, [box(-0.45, 0.0, -0.1, 0.05)]),)
    )
    for drawing in (beside, on_the_wire):
        value = measured(insulation_damage, drawing)["ragged"].quantity.value
        assert value == pytest.approx(0.45, abs=0.06)
        assert outcome(insulation_damage, drawing) is Outcome.REWORK


IN_THE_MIDDLE, ONE_SIDE = (-0.25, 0.05), (0.1, 0.5)


@pytest.mark.parametrize("angle", ANGLES)
@pytest.mark.parametrize(
    ("where", "deep"),
    # shallower ones at a side may be a wire cut at a slant
    [(IN_THE_MIDDLE, d) for d in (0.5, 0.78, 0.82, 1.2)]
    + [(ONE_SIDE, d) for d in (0.78, 0.82, 1.2)],
)
def test_no_tear_is_so_deep_that_it_is_not_seen(angle, where, deep):
    torn = changed(PLAIN, angle_deg=angle, notch=(box(-deep, 0.0, *where),))
    if where == IN_THE_MIDDLE:  # the strands show in it
        torn = changed(torn, regions=((Region.CONDUCTOR, [box(-deep, 0.0, -0.2, 0.05)]),))
    assert measured(insulation_damage, torn)["ragged"].quantity.value > 0.25
    assert outcome(insulation_damage, torn) is not Outcome.FINE


def test_the_face_of_the_end_with_the_wire_before_it_is_not_ragged():
    # the tube's end turned toward the lens: its far rim bows out, the wire hides it in the middle
    t = np.linspace(-0.499, 0.499, 80)
    rim = np.stack([0.2 * np.sqrt(1 - 4 * t**2), t], -1)
    u = np.linspace(-0.269, 0.269, 60)
    foot = np.stack([-0.11 * np.sqrt(1 - (u / 0.27) ** 2), u], -1)
    wire = np.concatenate([foot, [[0.5, 0.269], [0.5, -0.269]]])
    drawing = changed(
        PLAIN,
        regions=(
            (Region.INSULATION, [np.concatenate([rim, [[-0.1, 0.499], [-0.1, -0.499]]])]),
            (Region.CONDUCTOR, [wire]),
        ),
    )
    assert measured(insulation_damage, drawing)["ragged"].quantity.value < 0.08
    assert outcome(insulation_damage, drawing) is Outcome.FINE


@pytest.mark.parametrize("bow", [-0.2, 0.15, 0.25])
def test_a_clean_end_seen_at_a_slant_is_not_ragged(bow):
    t = np.linspace(-0.499, 0.499, 80)
    curve = np.stack([bow * np.sqrt(1 - 4 * t**2), t], -1)
    back = np.array([[-0.6, 0.499], [-0.6, -0.499]])
    drawing = changed(
        PLAIN,
        notch=(box(-0.6, 0.0, -0.5, 0.5),),
        regions=((Region.INSULATION, [np.concatenate([curve, back])]),),
    )
    assert measured(insulation_damage, drawing)["ragged"].quantity.value < 0.06
    assert outcome(insulation_damage, drawing) is Outcome.FINE


def test_a_melted_housing_is_told_from_burnt_insulation():
    housing = changed(
        PLAIN,
        regions=((Region.HOUSING, [box(1.0, 2.4, 0.42, 0.9)]),),
        marks=((Mark.CHAR, [box(1.2, 1.6, 0.5, 0.8)], 0.95),),
    )
    found = measured(insulation_damage, housing)
    assert found["char"].quantity.value == 0.0
    assert found["housing-melt"].quantity.value == pytest.approx(0.5, abs=0.03)
    assert outcome(insulation_damage, housing) is Outcome.REWORK


def test_a_bead_is_no_birdcage():
    bead = changed(PLAIN, regions=((Region.SOLDER, [box(0.3, 0.6, -0.7, 0.7)]),))
    assert measured(birdcage, bead)["width"].quantity.value == pytest.approx(0.54, abs=0.03)


def test_a_neighbours_burnt_insulation_is_not_this_joints():
    burnt = changed(PAIR, marks=((Mark.CHAR, [box(-0.5, 0.0, 1.1, 2.1)], 0.95),))
    found = view(burnt)
    assert by_name(insulation_damage.measure(found))["char"].quantity.value == 0.0
