"""Lines that run one way are told from texture that runs every way, and which way they run."""

from dataclasses import replace

import numpy as np
import pytest

from inspector.checks import surface
from inspector.lay import grain, runs_with_strands
from inspector.model import Mark, Measurement, NotMeasured, Region
from tests.cups import turned, view


def pictured(angle, grey, *, rough=0.0):
    """A drawn cup whose every pixel has the given grey of its place, marked rough or not."""
    seen = view(turned(angle))
    ys, xs = np.indices(seen.joint.patch.labels.shape)
    s, t = np.moveaxis(seen.joint.to_frame(np.stack([xs, ys], axis=-1).reshape(-1, 2)), -1, 0)
    values = np.clip(grey(s, t), 0, 255).reshape(xs.shape).astype(np.uint8)
    marks = seen.joint.patch.marks.copy()
    marks[Mark.ROUGH] = rough
    patch = replace(seen.joint.patch, rgb=np.repeat(values[..., None], 3, axis=2), marks=marks)
    return replace(seen, joint=replace(seen.joint, patch=patch))


def stripes(aslant_deg, period_d=0.12):
    a = np.radians(aslant_deg)
    return lambda s, t: 128 + 60 * np.sin(2 * np.pi * (t * np.cos(a) - s * np.sin(a)) / period_d)


def speckle(s, t):
    """Blurred noise of no direction."""
    cells = (np.round(s / 0.03) * 7919 + np.round(t / 0.03) * 104729).astype(np.int64)
    return 128 + 60 * (np.random.default_rng(5).random(4096)[cells % 4096] - 0.5)


def solder_of(seen):
    return (seen.joint.patch.labels == Region.SOLDER) & seen.joint.own


@pytest.mark.parametrize("angle", [0, 40, 90, 200])
@pytest.mark.parametrize("aslant", [-45, -20, 0, 30, 80])
def test_the_way_that_lines_run(angle, aslant):
    seen = pictured(angle, stripes(aslant))
    solder = solder_of(seen)
    coherence, found = grain(seen.joint, solder, solder)
    assert coherence > 0.9
    assert abs((found - aslant + 90) % 180 - 90) < 4
    assert runs_with_strands(seen.joint, solder, solder) is (abs(aslant) <= 50)


@pytest.mark.parametrize("angle", [0, 40, 90, 200])
def test_texture_that_runs_every_way(angle):
    for grey in (speckle, lambda s, t: stripes(45)(s, t) + stripes(-45)(s, t) - 128):
        seen = pictured(angle, grey)
        solder = solder_of(seen)
        assert grain(seen.joint, solder, solder)[0] < 0.3
        assert not runs_with_strands(seen.joint, solder, solder)


def test_nothing_is_told_of_a_flat_or_tiny_area():
    seen = pictured(20, lambda s, _: np.full_like(s, 90))
    solder = solder_of(seen)
    assert grain(seen.joint, solder, solder) == (0.0, 0.0)
    assert grain(seen.joint, np.zeros_like(solder), solder) == (0.0, 0.0)


def test_what_may_be_strands_is_not_called_rough_and_not_called_fine():
    def rough(grey):
        return next(m for m in surface.measure(pictured(30, grey, rough=0.9)) if m.name == "rough")

    assert isinstance(rough(stripes(25)), NotMeasured)
    assert isinstance(rough(speckle), Measurement)
    assert rough(speckle).quantity.value > 90
