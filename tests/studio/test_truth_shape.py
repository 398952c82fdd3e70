"""True fillet angles against analytic geometry."""

from __future__ import annotations

import numpy as np
import pytest

from sample_images.studio.truth_shape import _slopes_deg


@pytest.mark.parametrize(("first_deg", "last_deg"), [(10.0, 60.0), (70.0, 20.0), (35.0, 35.0)])
def test_angles_of_an_arc_are_its_tangents_at_the_contacts(
    first_deg: float, last_deg: float
) -> None:
    """An arc of a circle turns evenly from its first tangent to its last one."""
    a = np.radians(np.linspace(first_deg, last_deg, 3000))
    s, e = np.cumsum(np.cos(a)), np.cumsum(np.sin(a))
    points = np.linspace(0, 2999, 30).astype(int)
    found = _slopes_deg(s[points], e[points])
    assert found == pytest.approx((first_deg, last_deg), abs=1.5)
