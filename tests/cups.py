"""One drawn cup as a check sees it, and how near a measurement comes to what was drawn."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from inspector.joints import find_joints
from inspector.model import Job, Measured, Measurement, Scale, View
from tests.drawn import Cup, draw

SIZE = (340, 340)


def view(cup: Cup, d_px: float = 60, scale: Scale | None = None, size=SIZE) -> View:
    (joint,) = find_joints(draw([cup], d_px, size), "cup")
    return View(joint, (), scale or Scale(None, None, "none"), Job())


def turned(angle: float, **change: object) -> Cup:
    """A cup whose middle lies in the middle of the picture, turned by `angle` degrees."""
    cup = Cup(angle_deg=angle, **change)
    end = np.array([170.0, 170.0]) - cup.axis * 55
    return replace(cup, end=(float(end[0]), float(end[1])))


def value(measured: tuple[Measured, ...], name: str) -> Measurement:
    (found,) = [item for item in measured if item.name == name]
    assert isinstance(found, Measurement), found
    return found


def near(found: Measurement, truth: float, most: float) -> None:
    """Within `most` of the truth, and within three of its own standard uncertainties."""
    error = abs(found.quantity.value - truth)
    assert error <= most
    assert error <= 3 * found.quantity.standard_uncertainty + 1e-9
