"""Edges are found between the pixels, where the probability crosses one half."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings, strategies as st

from inspector.outline import spans_across

SIDE = 90
ROWS, COLUMNS = np.mgrid[:SIDE, :SIDE].astype(float)


def band(middle: float, width: float, angle_deg: float) -> tuple[np.ndarray, np.ndarray]:
    """A strip whose edges are straight ramps 4 px wide, and its direction.

    Within such a ramp bilinear values are exact, so that only the finding of edges is tested.
    """
    axis = np.array([np.cos(np.radians(angle_deg)), np.sin(np.radians(angle_deg))])
    across = (ROWS - SIDE / 2) * axis[0] - (COLUMNS - SIDE / 2) * axis[1] - middle
    return np.clip((width / 2 - np.abs(across)) / 4 + 0.5, 0, 1), axis


@settings(max_examples=60, deadline=None)
@given(
    middle=st.floats(-5, 5),
    width=st.floats(8, 24),
    angle=st.floats(0, 360),
    hole=st.sampled_from([0.5, 2.0, 3.0]),
)
def test_edges_lie_where_the_strip_ends(middle, width, angle, hole):
    image, axis = band(middle, width, angle)
    stations = np.linspace(-12, 12, 49)
    start = np.full(2, SIDE / 2)
    found = spans_across(image, start, axis, stations, 25.0, hole_px=hole, reach_px=9)
    np.testing.assert_allclose(found.low, middle - width / 2, atol=1e-6)
    np.testing.assert_allclose(found.high, middle + width / 2, atol=1e-6)


@pytest.mark.parametrize(("gap", "bridged"), [(1, True), (2, True), (4, False)])
def test_holes_up_to_two_pixels_are_bridged(gap, bridged):
    image = (np.abs(ROWS - SIDE // 2) <= 10).astype(float)
    image[SIDE // 2 + 5 : SIDE // 2 + 5 + gap] = 0
    start, axis = np.full(2, SIDE // 2), np.array([1.0, 0.0])
    found = spans_across(image, start, axis, np.zeros(1), 25.0)
    assert found.low[0] == pytest.approx(-10.5)
    assert found.high[0] == pytest.approx(10.5 if bridged else 4.5)
