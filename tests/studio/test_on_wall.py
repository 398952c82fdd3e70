"""Runs of solder on the outside of a cup hang on its wall."""

import numpy as np
import pytest

from sample_images.studio.solder_parts import on_wall
from sample_images.studio.terminal import Cup, wall


@pytest.mark.parametrize("cut", ["half", "scoop", "window", "closed"])
def test_a_run_of_solder_hangs_on_the_cups_wall_wherever_it_is_asked_for(cut):
    cup = Cup(2.0, 2.5, 7.0, cut, 100.0, 0.9, "pin", 1.5, 6.0)
    vertices, _, _ = wall(cup, rows=200, columns=400)
    for x in np.linspace(0.05, 0.9, 9) * cup.depth:
        for phi in np.radians(np.linspace(-150, 150, 13)):
            at, normal = on_wall(cup, float(x), float(phi))
            assert np.linalg.norm(vertices - at, axis=1).min() < 0.15
            assert np.dot(at - (at[0], 0, 0), normal) == pytest.approx(cup.outer)
            if abs(phi) > cup.opening(np.array(x)) + 0.1:
                assert np.arctan2(normal[1], normal[2]) == pytest.approx(phi)
