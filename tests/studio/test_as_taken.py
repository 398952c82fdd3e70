"""Truth brought down to what the photo shows: pictures drawn by hand, what stays and what hides."""

from __future__ import annotations

import copy

import numpy as np
import pytest

from made_results import VALUES
from sample_images.studio import part as pt
from sample_images.studio.as_taken import as_taken
from sample_images.studio.limits import clearness, faults
from sample_images.studio.photo_light import linear

HIGH, WIDE, D_PX = 160, 240, 60.0
SPOT = np.s_[76:86, 150:160]
LINE = np.s_[79:82, 140:190]


def joint(strands=(), planted=(), **values):
    """A joint whose wire comes from the left: insulation to 60, the cup from 120 on."""
    made = {
        "joint": 1, "d_mm": 3.0, "d_px": D_PX, "mm_per_px": 3.0 / D_PX, "tilt_deg": 0.0,
        "end": [60.0, 80.0], "lip": [120.0, 80.0], "axis": [1.0, 0.0],
        "values": {**VALUES, "fillet": [], "hole_hidden": False, "spike_hidden": False, **values},
        "strands": list(strands), "planted": list(planted),
    }  # fmt: skip
    return made | {"holds": clearness(made), "faults": faults(made)}


def scene(level, marked, bit, *, spot, usable=True, label=pt.SOLDER, **values):
    """Photo, labels, marks and truth: metal of one level with a marked area of another."""
    rgb = np.full((HIGH, WIDE, 3), level, np.uint8)
    rgb[marked] = spot
    labels = np.full((HIGH, WIDE), label, np.uint8)
    marks = np.zeros((HIGH, WIDE), np.uint16)
    marks[marked] = bit
    truth = {"usable": usable, "joints": [joint(**values)]}
    return rgb, labels, marks, truth


def test_srgb_is_decoded_by_its_standard():
    # IEC 61966-2-1: 128 is 0.2158 of white, 10 lies on the straight part
    light = linear(np.array([[[0, 10, 128], [255, 255, 255]]], np.uint8))
    assert light[0, 0] == pytest.approx([0.0, 10 / 255 / 12.92, 0.21586], abs=1e-4)
    assert light[0, 1] == pytest.approx([1.0, 1.0, 1.0])


@pytest.mark.parametrize(
    ("level", "spot", "stays"),
    [
        (150, 40, True),
        (150, 145, False),
        (14, 2, False),  # a seventh of the light, among tones that no screen shows
    ],
)
def test_a_pit_counts_as_far_as_the_photo_shows_it(level, spot, stays):
    rgb, labels, marks, truth = scene(level, SPOT, pt.HOLE, spot=spot, hole_D=10 / D_PX)
    before = copy.deepcopy(truth)
    left, after = as_taken(rgb, labels, marks, truth)
    assert truth == before
    one = after["joints"][0]
    assert (left == marks).all() == stays
    assert one["holds"]["surface"] == ("bad" if stays else "not-seen")
    assert one["faults"]["hole"] == ("bad" if stays else "not-seen")
    if stays:
        assert after == before


def test_one_pit_of_two_stays():
    rgb, labels, marks, truth = scene(150, SPOT, pt.HOLE, spot=149, hole_D=10 / D_PX)
    rgb[60:66, 130:138], marks[60:66, 130:138] = 30, pt.HOLE
    left, after = as_taken(rgb, labels, marks, truth)
    assert not left[SPOT].any()
    assert (left[60:66, 130:138] == pt.HOLE).all()
    values = after["joints"][0]["values"]
    assert values["hole_D"] == pytest.approx(7 / D_PX)  # eight pixels, from centre to centre
    assert not values["hole_hidden"]


def test_nothing_is_asked_of_a_photo_that_cannot_be_used():
    rgb, labels, marks, truth = scene(150, SPOT, pt.HOLE, spot=150, usable=False, hole_D=0.2)
    left, after = as_taken(rgb, labels, marks, truth)
    assert left is marks
    assert after is truth


DRY = {"wetted": 0.4, "dry_stretch_conductor_diameters": 1.5, "dry_hidden": 0.0}


@pytest.mark.parametrize(("seam", "holds"), [(60, "bad"), (140, "not-seen"), (250, "not-seen")])
def test_a_dry_line_counts_where_a_dark_seam_shows(seam, holds):
    rgb, labels, marks, truth = scene(150, LINE, 0, spot=seam, **DRY)
    marks[77:84, 140:190] = pt.DRY
    left, after = as_taken(rgb, labels, marks, truth)
    one = after["joints"][0]
    assert one["holds"]["wetting"] == holds
    assert (left > 0).any() == (holds == "bad")
    if holds != "bad":
        assert one["values"]["dry_hidden"] == pytest.approx(1.5)
        assert one["values"]["wetted"] == pytest.approx(1.0)  # of what shows


def test_a_shadow_between_metal_and_something_else_is_no_seam():
    rgb, labels, marks, truth = scene(150, LINE, 0, spot=60, **DRY)
    marks[77:84, 140:190], labels[:80] = pt.DRY, pt.INSULATION
    _, after = as_taken(rgb, labels, marks, truth)
    assert after["joints"][0]["holds"]["wetting"] == "not-seen"


@pytest.mark.parametrize(("away", "holds"), [(0.1, "not-seen"), (0.3, "bad")])
def test_a_seam_beside_insulation_is_taken_for_the_shadow_under_its_edge(away, holds):
    rgb, labels, marks, truth = scene(150, LINE, 0, spot=60, **DRY)
    marks[77:84, 140:190] = pt.DRY
    labels[: 80 - round(away * D_PX)] = pt.INSULATION
    _, after = as_taken(rgb, labels, marks, truth)
    assert after["joints"][0]["holds"]["wetting"] == holds


def test_half_of_a_dry_contact_line_may_hide():
    rgb, labels, marks, truth = scene(150, LINE, 0, spot=60, **DRY)
    marks[77:84, 140:190] = pt.DRY
    marks[117:124, 140:190] = pt.DRY  # as long, and nothing to be seen
    _, after = as_taken(rgb, labels, marks, truth)
    values = after["joints"][0]["values"]
    assert values["wetted"] == pytest.approx(0.4 / 0.7)
    assert values["dry_stretch_conductor_diameters"] == pytest.approx(1.5)
    assert values["dry_hidden"] == pytest.approx(1.5)


NOWHERE = np.s_[0:0, 0:0]
TIP = {"check": "spike", "name": "spike", "size": 2.0, "where": [150.0, 30.0], "visible": True}


def spike(level):
    """A spike 40 pixels (2 mm) long that points up from the solder."""
    tip = {"check": "spike", "name": "spike", "size": 2.0, "where": [150.0, 30.0], "visible": True}
    rgb, labels, marks, truth = scene(
        150, np.s_[0:1, 0:1], 0, spot=150, spike_mm=2.0, planted=[tip]
    )
    rgb[30:70, 148:153], marks[30:70, 148:153] = level, pt.SPIKE
    return as_taken(rgb, labels, marks, truth)


def test_a_spike_counts_where_its_outline_shows():
    _, after = spike(60)
    assert after["joints"][0]["holds"]["spike"] == "bad"
    left, after = spike(148)
    one = after["joints"][0]
    assert one["holds"]["spike"] == one["faults"]["spike"] == "not-seen"
    assert not one["planted"][0]["visible"]
    assert not left.any()


def test_of_a_spike_that_is_mostly_hidden_counts_what_shows():
    tip = {"check": "spike", "name": "spike", "size": 2.0, "where": [150.0, 30.0], "visible": True}
    rgb, labels, marks, truth = scene(
        150, np.s_[0:1, 0:1], 0, spot=150, spike_mm=2.0, planted=[tip]
    )
    rgb[30:44, 149:152], marks[30:44, 149:152] = 50, pt.SPIKE  # 14 pixels are 0.7 mm
    _, after = as_taken(rgb, labels, marks, truth)
    one = after["joints"][0]
    assert one["values"]["spike_mm"] == pytest.approx(0.7, abs=0.01)
    assert one["holds"]["spike"] == "near"


def strand(level):
    """A strand of 60 pixels (3 mm), two wide, across a ground of one level."""
    path = [[float(x), 120.0] for x in range(100, 161)]
    known = {"path": path, "length_mm": 3.0, "visible_mm": 3.0, "reach_mm": 3.0, "tinned": False}
    rgb, labels, marks, truth = scene(
        150, NOWHERE, 0, spot=150, label=pt.BACKGROUND, strands=[known]
    )
    rgb[119:122, 100:161], labels[119:122, 100:161] = level, pt.STRAND
    return as_taken(rgb, labels, marks, truth)[1]["joints"][0]


def test_a_strand_counts_as_far_as_it_stands_out():
    assert strand(40)["holds"]["stray-strand"] == "bad"
    faded = strand(147)
    assert faded["strands"][0]["visible_mm"] == 0.0
    assert faded["holds"]["stray-strand"] == faded["faults"]["strand"] == "not-seen"
