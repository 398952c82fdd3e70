"""Centre-line lengths against curves whose length is known exactly."""

import cv2
import numpy as np
import pytest
from scipy.signal import savgol_filter

from inspector.trace import centre_line, length, local_cubics, resampled

STEPS = np.linspace(0.0, 1.0, 600)


def arc(radius, turn):
    a = turn * STEPS
    return radius * np.stack([np.cos(a), np.sin(a)], -1), radius * turn


def spiral(inner, growth, turn):
    a = turn * STEPS
    r = inner + growth * a
    points = r[:, None] * np.stack([np.cos(a), np.sin(a)], -1)
    fine = np.linspace(0, turn, 200_001)
    speed = np.hypot(inner + growth * fine, growth)
    return points, float(np.sum((speed[1:] + speed[:-1]) / 2) * (fine[1] - fine[0]))


def straight(size):
    return np.stack([size * STEPS, 0 * STEPS], -1), size


def wave(size, height, count):
    x = size * STEPS
    points = np.stack([x, height * np.sin(2 * np.pi * count * STEPS)], -1)
    fine = np.linspace(0, size, 200_001)
    slope = height * 2 * np.pi * count / size * np.cos(2 * np.pi * count * fine / size)
    speed = np.hypot(1.0, slope)
    return points, float(np.sum((speed[1:] + speed[:-1]) / 2) * (fine[1] - fine[0]))


CURVES = {
    "straight": straight(60),
    "straight short": straight(14),
    "quarter circle": arc(40, np.pi / 2),
    "tight half circle": arc(9, np.pi),
    "three quarters": arc(20, 1.5 * np.pi),
    "spiral": spiral(10, 3.0, 3 * np.pi),
    "wave": wave(80, 8, 1.5),
}


def drawn(points, width, angle_deg, shift):
    """Pixels mostly covered by a band of `width` along the curve, cut square at its ends."""
    a = np.radians(angle_deg)
    turned = points @ np.array([[np.cos(a), np.sin(a)], [-np.sin(a), np.cos(a)]])
    turned = turned - turned.min(axis=0) + 12 + shift
    size = np.ceil(turned.max(axis=0)).astype(int) + 14
    fine = 8
    canvas = np.zeros((size[1] * fine, size[0] * fine), np.uint8)
    way = np.gradient(turned, axis=0)
    side = np.stack([-way[:, 1], way[:, 0]], -1) / np.hypot(*way.T)[:, None] * width / 2
    for left, right in zip(
        np.stack([turned + side, turned - side], 1)[:-1],
        np.stack([turned - side, turned + side], 1)[1:],
        strict=True,
    ):
        quad = np.round((np.concatenate([left, right]) + 0.5) * fine - 0.5).astype(np.int32)
        cv2.fillConvexPoly(canvas, quad, 255)
    small = cv2.resize(canvas, tuple(int(s) for s in size), interpolation=cv2.INTER_AREA)
    return small >= 128, turned


@pytest.mark.parametrize("name", CURVES)
@pytest.mark.parametrize("width", [1.6, 2.5, 4.0])
def test_length_of_known_curves_within_3_percent_at_any_angle(name, width):
    points, true = CURVES[name]
    errors = []
    for angle in (0, 11, 22.5, 37, 45, 63, 90):
        area, _ = drawn(points, width, angle, (angle % 7) / 7)
        errors.append(length(centre_line(area)) - true)
    half_a_pixel = 0.5  # at each end a pixel belongs to the area or not
    assert np.max(np.abs(errors)) <= 0.03 * true + 2 * half_a_pixel
    assert abs(np.mean(errors)) <= 0.02 * true + half_a_pixel


@pytest.mark.parametrize("angle", [0, 17, 45, 80])
def test_centre_line_lies_on_the_curve(angle):
    area, truth = drawn(arc(30, np.pi)[0], 2.5, angle, 0.3)
    path = centre_line(area)
    gap = np.hypot(*(path[:, None] - truth[None]).transpose(2, 0, 1)).min(axis=1)
    assert np.percentile(gap, 95) < 0.7


def test_the_longest_way_is_taken_past_a_side_branch():
    area = np.zeros((60, 90), bool)
    area[30:32, 10:80] = True
    area[20:31, 40:42] = True
    assert length(centre_line(area)) == pytest.approx(70, abs=1.5)


def test_a_speck_gives_its_extent():
    area = np.zeros((9, 9), bool)
    area[4, 3:5] = True
    assert length(centre_line(area)) == pytest.approx(2.0, abs=0.3)


def test_nothing_has_no_centre_line():
    with pytest.raises(ValueError, match="empty"):
        centre_line(np.zeros((5, 5), bool))


def test_local_cubics_agree_with_scipy():
    points = np.random.default_rng(2).normal(size=(40, 2)).cumsum(axis=0)
    for window in (5, 13, 39):
        theirs = savgol_filter(points, window, 3, axis=0, mode="interp")
        assert np.allclose(local_cubics(points, window), theirs)


def test_resampling_keeps_the_ends():
    points = np.array([[0.0, 0.0], [3.0, 4.0], [3.0, 10.0]])
    again = resampled(points, 0.5)
    assert np.allclose(again[[0, -1]], points[[0, -1]])
    assert length(again) == pytest.approx(11.0, abs=0.1)
