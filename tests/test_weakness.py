"""A doubt, and a photo without a joint, are put down to what the picture lacks."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

import scenes
from inspector import wording
from inspector.model import Finding, Outcome, Region
from inspector.photo import make_photo
from inspector.problems import PROBLEMS, problem_finding
from inspector.report import reasons
from inspector.wording import told_once
from scenes import changed, printed


@pytest.fixture(scope="module")
def inspection():
    return scenes.inspection()


def doubts(inspection, remedies, quality=None):
    names = ("spike", "surface", "birdcage")
    findings = tuple(
        Finding(name, Outcome.DOUBT, "Perhaps.", remedy, 1, 0.6)
        for name, remedy in zip(names, remedies, strict=False)
    )
    return changed(inspection, findings=findings, quality=quality or {})


def test_a_small_joints_doubts_say_closer_and_say_it_once(inspection):
    lamp = f"{wording.LESS_GLARE} {wording.BY_EYE}"
    quality = {"d_photo_px": 50.0, "blur_D": 0.01}
    small = doubts(inspection, (lamp, lamp, wording.NAME_WIRE), quality)
    found = reasons(small)
    assert found[0].remedy == f"{PROBLEMS['size'].advice} {wording.BY_EYE}"
    assert found[2].remedy == wording.NAME_WIRE  # no photo mends that
    assert told_once(found)[0] == ""
    assert told_once(found)[1] == f"For 1 and 2: {found[1].remedy}"
    assert "lamp" not in printed(small)


@pytest.mark.parametrize(
    ("measures", "problem"),
    [
        ({"d_photo_px": 90.0, "blur_D": 0.03}, "focus"),
        ({"d_photo_px": 90.0, "tilt_deg": 30.0}, "tilt"),
        ({"d_photo_px": 75.0, "hidden_share": 0.3}, "covered"),
        ({"d_photo_px": 90.0, "clipped_share": 0.3, "cut_share": 0.0}, "glare"),
    ],
)
def test_a_doubt_is_put_down_to_what_the_picture_lacks_most(inspection, measures, problem):
    found = reasons(doubts(inspection, (wording.CLOSER,), measures))
    assert found[0].remedy == PROBLEMS[problem].advice


def test_a_good_picture_keeps_the_judges_own_advice(inspection):
    seen = doubts(inspection, (wording.LESS_GLARE,), {"d_photo_px": 200.0, "blur_D": 0.01})
    assert reasons(seen)[0].remedy == wording.LESS_GLARE


def test_a_picture_without_colour_says_so_in_its_doubts(inspection):
    grey = np.repeat(inspection.photo.rgb[..., :1], 3, axis=2)
    seen = replace(doubts(inspection, (wording.CLOSER,)), photo=make_photo(grey, "grey.jpg"))
    assert reasons(seen)[0].remedy == PROBLEMS["grey"].advice


def no_joint(inspection, rgb, region=None):
    labels = np.zeros(rgb.shape[:2], np.uint8)
    if region is not None:
        labels[40:80, :30] = region
    patch = replace(inspection.patches[0], labels=labels)
    photo, missing = make_photo(rgb, "a.jpg"), (problem_finding("no-joint"),)
    return replace(inspection, photo=photo, patches=(patch,), results=(), findings=missing)


def test_no_joint_names_its_likely_cause(inspection):
    rgb = np.array(inspection.photo.rgb)
    grey = np.repeat(rgb[..., :1], 3, axis=2)
    advice = [
        reasons(no_joint(inspection, *what))[0].remedy
        for what in (
            (rgb,),
            (rgb[:200, :300],),
            (grey,),
            (rgb, Region.SOLDER),
            (rgb, Region.INSULATION),
        )
    ]
    plain, small, colour, cut, wire = advice
    assert "original from the phone" in small
    assert "black-and-white" in colour
    assert "Step back" in cut
    assert wire == plain == PROBLEMS["no-joint"].advice
    assert "300 x 200 pixels" in reasons(no_joint(inspection, rgb[:200, :300]))[0].text
