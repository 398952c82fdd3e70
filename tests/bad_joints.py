"""Joints of the second renderer with a defect that is asked for."""

from dataclasses import replace

import numpy as np

from tools.second_renderer.plan import plan
from tools.second_renderer.shot import draw_shot


def bad_number(check, variant, kind=None):
    """The first photo with that defect, of a cup of that kind."""
    for number in range(2, 1000, 2):
        todo = plan(number)
        if (todo.check, todo.variant) == (check, variant):
            shot, _ = draw_shot(number)
            if kind in (None, shot.connector.cup.kind):
                return number
    raise AssertionError((check, variant, kind))


def bad_joint(check, variant, kind=None):
    """A joint with that defect at y = 0, not rolled; and a generator."""
    shot, _ = draw_shot(bad_number(check, variant, kind))
    joint = shot.joints[shot.bad]
    return replace(joint, y=0.0, cup=replace(joint.cup, roll=0.0)), np.random.default_rng(1)
