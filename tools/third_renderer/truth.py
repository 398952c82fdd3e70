"""What is known of a photo, as the JSON that is written beside it; its form: see the package."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from types import MappingProxyType
from typing import Any

import numpy as np

from .connector import Bridge
from .insulation import insulation_end
from .pinhole import Pinhole
from .plan import HINDRANCES, Plan
from .pole import Cups, Pole

Json = dict[str, Any]
# The checks that a fault must not pass; a fault that is not here is bad for the check of its name.
BAD: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "none": ("solder-fill", "wetting", "fillet"),
        "wetting": ("wetting", "solder-fill", "fillet"),
        "excess-solder": ("excess-solder", "fillet"),
        "buried": ("excess-solder", "insulation-gap"),
        "holes": ("surface",),
    }
)
LEAST_GAP = 0.3  # mm; over a shorter one, end and lip give no direction


def truth_of(
    todo: Plan,
    cups: Cups,
    plating: str,
    poles: Sequence[Pole],
    bridge: Bridge | None,
    pinhole: Pinhole,
) -> Json:
    """The truth of a photo that shows these poles."""
    bridged = {bridge.first, bridge.first + 1} if bridge else set()
    cup = f"{cups.style} {plating}"
    return {
        "usable": not todo.hindrance,
        "why": HINDRANCES.get(todo.hindrance),
        "joints": [
            _joint(pole, todo, cup, pinhole, bridged=i in bridged) for i, pole in enumerate(poles)
        ],
    }


def bad_checks(fault: str, *, bridged: bool = False) -> list[str]:
    """The checks that a joint with this fault ("" for none) must not pass, in order."""
    bad = set(BAD.get(fault, (fault,) if fault else ()))
    return sorted(bad | ({"bridge"} if bridged else set()))


def _joint(pole: Pole, todo: Plan, cup: str, pinhole: Pinhole, *, bridged: bool) -> Json:
    end, lip, overall = insulation_end(pole).middle, pole.lip, pole.overall
    way = np.array([1.0, 0, 0])
    if abs(pole.gap) > LEAST_GAP:
        way = (lip - end) / np.linalg.norm(lip - end)
    end_px, lip_px = pinhole.project(end), pinhole.project(lip)
    middle = (end + lip) / 2
    axis = pinhole.project(middle + way * 0.5) - pinhole.project(middle - way * 0.5)
    axis /= np.linalg.norm(axis)
    # the wire's outline lies across the line of sight
    across = np.cross(pinhole.place - end, way)
    across /= np.linalg.norm(across)
    sides = [pinhole.project(end + side * across * overall / 2) for side in (1, -1)]
    d_px = np.linalg.norm(sides[0] - sides[1])
    bad = bad_checks(pole.fault, bridged=bridged)
    what = (pole.fault or "bridge") if bad else "sound"
    seen = (lip_px - end_px) @ axis / d_px
    gap = f"gap {pole.gap / overall:.2f} D seen {seen:.2f} D"
    return {
        "end": [round(float(value), 1) for value in end_px],
        "lip": [round(float(value), 1) for value in lip_px],
        "axis": [round(float(value), 4) for value in axis],
        "d_px": round(float(d_px), 1),
        "mm_per_px": round(float(overall / d_px), 5),
        "wire": f"{todo.awg} AWG",
        "bad": bad,
        "sound": not bad,
        "note": f"{what}; cup {cup}; {gap}; severity {todo.severity:.2f}",
    }
