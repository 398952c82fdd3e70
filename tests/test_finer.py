"""Where joints are small, or none is found, the whole photo is looked at once more, finer."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from drawn import Cup
from drawn_photo import Drawn
from inspector import stages
from inspector.model import Region

SMALL = Drawn(cups=(Cup(end=(900.0, 700.0)),), d_px=50.0, size=(1920, 1440))  # D in 640: 17 pixels
LARGE = replace(SMALL, d_px=105.0)


@pytest.fixture
def sides(monkeypatch):
    """Draw a scene whose joints show only in patches of a side that `blind` does not hold."""

    def use(drawn, *blind):
        asked = []

        def coarse(photo, side_px=640):
            asked.append(side_px)
            patch = drawn.coarse(photo, side_px)
            if side_px not in blind:
                return patch
            nothing = np.full_like(patch.labels, Region.BACKGROUND)
            return replace(patch, labels=nothing, marks=np.zeros_like(patch.marks))

        monkeypatch.setattr(stages.network, "coarse", coarse)
        return stages._rough(drawn.photo(), "cup"), asked

    return use


@pytest.mark.parametrize("blind", [(), (640,)])
def test_a_small_joint_is_looked_for_in_a_finer_patch(sides, blind):
    (patch, joints), asked = sides(SMALL, *blind)
    assert asked == [640, 832]
    assert patch.step == pytest.approx(1920 / 832)
    assert [round(j.d_px * patch.step / 50.0, 1) for j in joints] == [1.0]


def test_what_only_the_first_patch_shows_is_kept(sides):
    (patch, joints), asked = sides(SMALL, 832)
    assert asked == [640, 832]
    assert patch.step == 3.0
    assert len(joints) == 1


def test_a_large_joint_needs_no_second_look(sides):
    (_, joints), asked = sides(LARGE)
    assert asked == [640]
    assert len(joints) == 1


def test_a_small_photo_shows_no_more_when_finer(sides):
    _, asked = sides(replace(SMALL, cups=(Cup(end=(300.0, 240.0)),), size=(700, 500)), 640)
    assert asked == [640]
