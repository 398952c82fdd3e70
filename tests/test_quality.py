"""Blur of known size, light, size, cropping and cover on drawn joints."""

from dataclasses import replace

import cv2
import numpy as np
import pytest

from inspector.model import OPINIONS, Faults, Hindrance, Job, Outcome, Photo, Region
from inspector.problems import PROBLEMS
from inspector.quality import (
    GATES,
    SURE_OF_NONE,
    examine,
    measures,
    photo_findings,
    problems_of,
    unsure,
)
from inspector.sharpness import edge_blur_px
from tests.defects import COLOURS, Drawing, box, changed, view

PLAIN = Drawing(end=(150, 210))


def joint_of(drawing, rgb=None):
    joint = view(drawing).joint
    if rgb is None:
        return joint
    return replace(joint, patch=replace(joint.patch, rgb=rgb(joint.patch.rgb)))


def blurred(sigma, noise=0.0, texture=0.0, seed=3):
    def use(rgb):
        rng = np.random.default_rng(seed)
        soft = rgb.astype(np.float32)
        if texture:  # smooth mottling as of cloth or worn metal, 6 px across
            mottle = cv2.GaussianBlur(rng.normal(size=rgb.shape[:2]).astype(np.float32), (0, 0), 6)
            soft += texture * (mottle / mottle.std())[..., None]
        soft = cv2.GaussianBlur(soft, (0, 0), sigma) if sigma else soft
        return np.clip(soft + rng.normal(0, noise, rgb.shape), 0, 255).astype(np.uint8)

    return use


def photo_of(drawing, colour=(200, 120, 40)):
    return Photo("a.jpg", np.full((drawing.side, drawing.side, 3), colour, np.uint8))


def names(drawing, rgb=None):
    return {f.check for f in examine(photo_of(drawing), joint_of(drawing, rgb))[1]}


@pytest.mark.parametrize("angle", [0, 25, 65])
@pytest.mark.parametrize("sigma", [1.0, 2.0, 4.0, 6.0])
def test_edge_blur_is_the_blur_that_was_put_in(sigma, angle):
    joint = joint_of(changed(PLAIN, angle_deg=angle), blurred(sigma))
    assert edge_blur_px(joint) == pytest.approx(sigma, rel=0.15, abs=0.3)


@pytest.mark.parametrize("sigma", [1.0, 3.0])
@pytest.mark.parametrize(("noise", "texture"), [(10, 0), (0, 8), (8, 6)])
def test_edge_blur_bears_noise_and_smooth_texture(sigma, noise, texture):
    joint = joint_of(PLAIN, blurred(sigma, noise, texture))
    assert edge_blur_px(joint) == pytest.approx(sigma, rel=0.3, abs=0.5)


@pytest.mark.parametrize("angle", [0, 30, 90])
def test_shake_in_any_direction_shows(angle):
    def shaken(rgb):
        kernel = np.zeros((31, 31), np.float32)
        a = np.radians(angle)
        for r in np.linspace(-12, 12, 200):
            kernel[round(15 + r * np.sin(a)), round(15 + r * np.cos(a))] = 1
        return cv2.filter2D(rgb, -1, kernel / kernel.sum())

    assert edge_blur_px(joint_of(PLAIN, shaken)) > 4.0  # a box of 24 px has a sigma of 7
    assert "focus" in names(PLAIN, shaken)


def test_a_sharp_joint_is_in_focus_and_a_blurred_one_is_not():
    assert names(PLAIN) == set()
    assert names(PLAIN, blurred(1.0, 5.0)) == set()
    assert names(PLAIN, blurred(7.0)) == {"focus"}


def test_focus_is_judged_on_the_joint_and_not_on_the_ground():
    joint = view(PLAIN).joint
    near = cv2.dilate(joint.own.astype(np.uint8), np.ones((31, 31))) > 0
    rng = np.random.default_rng(0)

    def sharp_ground(rgb):
        soft = cv2.GaussianBlur(rgb, (0, 0), 7.0)
        return np.where(near[..., None], soft, rng.integers(0, 255, rgb.shape)).astype(np.uint8)

    assert "focus" in names(PLAIN, sharp_ground)


def test_no_edge_to_read_gives_no_number():
    assert edge_blur_px(joint_of(PLAIN, lambda rgb: np.full_like(rgb, 90))) is None


def test_blown_out_metal():
    def blown(rgb):
        metal = np.isin(view(PLAIN).joint.patch.labels, [Region.SOLDER, Region.TERMINAL])
        return np.where(metal[..., None], 255, rgb).astype(np.uint8)

    found, findings = examine(photo_of(PLAIN), joint_of(PLAIN, blown))
    assert found["clipped_share"] > 0.6
    assert [f.text for f in findings if f.check == "exposure"] == [PROBLEMS["glare"].meaning]


def test_dark_metal_but_not_dark_insulation():
    assert "exposure" in names(PLAIN, lambda rgb: (rgb // 12).astype(np.uint8))

    def black_wire(rgb):
        wire = view(PLAIN).joint.patch.labels == Region.INSULATION
        return np.where(wire[..., None], 8, rgb).astype(np.uint8)

    assert "exposure" not in names(PLAIN, black_wire)


def test_small_joint():
    assert "size" in names(changed(PLAIN, step=0.4))
    assert measures(photo_of(PLAIN), joint_of(PLAIN))["d_photo_px"] == 96


def test_metal_at_the_pictures_edge():
    cut = changed(PLAIN, end=(250, 210))  # the terminal runs out on the right
    assert "cropped" in names(cut)
    assert "cropped" not in names(PLAIN)  # though its wire runs out on the left


def test_covered_and_sleeved():
    finger = changed(PLAIN, regions=((Region.BACKGROUND, [box(0.2, 1.4, -1, 1)]),))
    assert "covered" in names(finger)
    sleeve = changed(PLAIN, regions=((Region.SLEEVE, [box(-0.3, 0.8, -0.6, 0.6)]),))
    found = examine(photo_of(sleeve), joint_of(sleeve))[1]
    assert PROBLEMS["sleeved"].meaning in {f.text for f in found}


@pytest.mark.parametrize("long", [0.05, 0.3])
def test_a_wire_that_is_parted_from_its_cup_is_not_judged(long):
    cut = changed(PLAIN, regions=((Region.BACKGROUND, [box(0.3, 0.3 + long, -0.5, 0.5)]),))
    assert measures(photo_of(cut), joint_of(cut))["parted_D"] == pytest.approx(long, abs=0.015)
    assert ("parted" in names(cut)) == (long > 0.1)


def test_what_looks_like_solder_in_the_colour_of_copper_is_not_judged():
    def coppery(rgb):
        changed_rgb = rgb.copy()
        changed_rgb[(rgb == COLOURS[Region.SOLDER]).all(axis=2)] = COLOURS[Region.CONDUCTOR]
        return changed_rgb

    assert measures(photo_of(PLAIN), joint_of(PLAIN))["copper_share"] == 0.0
    assert measures(photo_of(PLAIN), joint_of(PLAIN, coppery))["copper_share"] == 1.0
    assert "copper" in names(PLAIN, coppery)


def test_a_photo_without_colour_is_not_judged():
    found = examine(photo_of(PLAIN, (90, 92, 95)), joint_of(PLAIN))[1]
    assert [f.check for f in found] == ["grey"]


def test_findings_of_a_joint_bear_its_number_and_stop_it():
    for finding in examine(photo_of(PLAIN), joint_of(PLAIN, blurred(7.0)))[1]:
        assert finding.joint == 1
        assert finding.outcome is Outcome.NOT_SEEN


def test_certainty():
    assert unsure(joint_of(PLAIN)) is None
    assert unsure(joint_of(changed(PLAIN, sure=0.6))).outcome is Outcome.DOUBT
    assert unsure(replace(joint_of(PLAIN), sure=0.1)).outcome is Outcome.DOUBT


def test_photo_as_a_whole():
    joint = joint_of(PLAIN)
    assert [f.check for f in photo_findings([], Job("cup"))] == ["no-joint"]
    assert photo_findings([joint], Job("cup")) == ()
    assert [f.check for f in photo_findings([joint], Job("ring"))] == ["kind"]
    assert [f.check for f in photo_findings([joint], Job("cup", poles=2))] == ["poles"]
    assert all(f.joint is None for f in photo_findings([], Job("cup")))


def test_every_problem_has_its_own_advice():
    advice = [problem.advice for problem in PROBLEMS.values()]
    assert len(set(advice)) == len(advice)
    assert all(text.endswith(".") for text in advice)
    assert {gate.problem for gate in GATES.values()} <= set(PROBLEMS)


def with_opinion(odds, hindrance, problems=()):
    """A joint of which the network says this of a hindrance, and nothing else."""
    joint = joint_of(PLAIN)
    grid = np.full((OPINIONS, 60, 60), -13.0, np.float32)
    grid[hindrance] = odds
    patch = replace(joint.patch, faults=Faults(grid, (3.5, 3.5), 8.0))
    return replace(joint, patch=patch, problems=problems)


@pytest.mark.parametrize(
    ("hindrance", "check"), [(Hindrance.STEEP, "tilt"), (Hindrance.PAIR, "two-wires")]
)
def test_a_joint_that_the_network_calls_hindered_is_sent_back(hindrance, check):
    for odds, sent in ((2.0, True), (-2.0, True), (-4.0, False)):
        found = {f.check for f in examine(photo_of(PLAIN), with_opinion(odds, hindrance))[1]}
        assert (check in found) == sent


def test_two_ends_are_one_wire_only_where_the_network_is_sure_of_one():
    double = ("two-wires", "unsure")
    for odds in (2.0, -5.0):
        assert problems_of(with_opinion(odds, Hindrance.PAIR, double)) == double
    sure = with_opinion(SURE_OF_NONE - 1.0, Hindrance.PAIR, double)
    assert problems_of(sure) == ("unsure",)
    assert problems_of(replace(joint_of(PLAIN), problems=double)) == double  # no opinion at all
