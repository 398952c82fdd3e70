"""Fillet: the shape of the solder between wire and cup.

What it is: the solder's free surface from the strands to the cup's lip, as its outline on either
side of the wire shows it. Solder that wetted both draws itself in; solder that did not, or too
much of it, bulges.

Why it matters: the shape tells what the surface hides. A drawn-in fillet cannot form without
wetting; a bulging one can sit on clean-looking metal without holding it.

How it is measured: on either side the outline is taken with sub-pixel accuracy from where the
solder leaves the strands to where it meets the terminal. Convexity is the outline's largest
deviation from its chord, outward positive, as a share of the chord. The apparent angles at
conductor and cup come from a robust circle through the outline, or through the part near that
end where one circle does not fit the whole. They are angles in the picture, of a solid joint:
they depend on the amount of solder as well as on wetting. Where they cannot be told, the convexity
of a long outline that clearly bulges still counts. Seen aslant, or with its foot hidden, solder
tells only where it stands out of the terminal's own outline. The outline counts only where it is
the joint's own edge: not along another joint, and not around the lip's rounded rim or a spike.

Limit: concave or flat, convex by at most 5 % of the chord (US Army STP 11-25R13-SM-TG A-12,
seen; 5 % is a house limit); apparent angle at most 90 deg (IPC-A-610 5, fig. 5-1, quoted).

Remedy: too much solder is drawn off with braid; a beaded edge wants flux and more heat on the
part that it stands on.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from inspector.fillet_line import FreeSurface, free_surface, piled_up
from inspector.fillet_shape import (
    LEAST_CHORD_PX,
    OUTSIDE_D,
    WHAT,
    convexity,
    in_frame,
    shape_numbers,
)
from inspector.frame import apparent_tilt_deg
from inspector.model import (
    Check,
    Fault,
    Limit,
    Mark,
    Measured,
    Measurement,
    NotMeasured,
    View,
)
from inspector.outline import HALF, sample
from inspector.profile import Rim, rims

if TYPE_CHECKING:
    from inspector.model import Joint

MOST_U_DEG, MOST_TILT_DEG = 8.0, 18.0  # outline and tilt beyond which nothing can be told
LONG_D, CLEARLY = 0.6, 0.12  # an outline and a bulge that tell even without the angles
SPIKED = 0.1  # share of an outline that is marked as a spike
HIDDEN = 0.3  # a foot in the insulation or under the solder: the chord would be another
PILE_D = 0.3  # the least chord of solder that piled up
NAMES = {-1: "left", 1: "right"}  # seen along the wire toward the terminal


def measure(view: View) -> tuple[Measured, ...]:
    """For each visible side: convexity in chords, angles at conductor and cup in degrees."""
    joint = view.joint
    sides: dict[int, Rim] = {rim.side: rim for rim in rims(joint)}
    found: list[Measured] = []
    tilt_deg, u_tilt_deg = apparent_tilt_deg(joint)
    aslant = tilt_deg > MOST_TILT_DEG
    sine = float(np.sin(np.radians(min(tilt_deg + u_tilt_deg, 90.0))))
    for side, name in NAMES.items():
        rim = sides.get(side)
        surface = None if rim is None else free_surface(joint, rim)
        measured = None if surface is None else shape_numbers(joint, surface, name, sine)
        if measured is not None and _clear(measured) and not aslant:
            found += measured
            continue
        because = f"no fillet shows outside the cup on the {name} side"
        if aslant:
            because = "seen aslant, the edge of the cup hides the fillet's outline"
        elif measured is not None:
            because = f"the fillet on the {name} side is too short or too uneven to tell its shape"
        left: list[Measured] = [NotMeasured(f"{what}-{name}", because) for what in WHAT]
        if surface is not None and measured is not None and not aslant:
            if _bulges(surface, measured[0], joint):
                left[0] = measured[0]
        elif rim is not None:
            left[0] = _piled_up(joint, rim, name, sine) or left[0]
        found += left
    return tuple(found)


def _piled_up(joint: Joint, rim: Rim, name: str, sine: float) -> Measurement | None:
    """The convexity of solder that clearly bulges and stands out of the terminal's own outline.

    That tells whatever hides its foot, and aslant too: a lip's edge bulges there, but not outside.
    """
    surface = piled_up(joint, rim)
    if surface is None or surface.outside_px < OUTSIDE_D * joint.d_px:
        return None
    points = surface.points
    length = float(np.hypot(*(points[-1] - points[0])))
    if length < max(PILE_D * joint.d_px, LEAST_CHORD_PX) or points[-1, 0] <= points[0, 0]:
        return None
    spiked = sample(joint.patch.marks[Mark.SPIKE], joint.from_frame(in_frame(joint, surface)))
    if np.mean(spiked > HALF) > SPIKED:
        return None  # the outline runs around a spike, which is judged by itself
    found = convexity(joint, surface, points, name, sine, HIDDEN)
    return found if found.quantity.value > CLEARLY else None


def _bulges(surface: FreeSurface, bulge: Measured, joint: Joint) -> bool:
    """Whether a long outline bulges so that its convexity counts without the angles.

    Short ones seem to bulge where the cup's rim is rounded, and tell nothing.
    """
    chord_D = float(np.hypot(*(surface.points[-1] - surface.points[0]))) / joint.d_px  # noqa: N806 - the unit shows in the name
    clearly = isinstance(bulge, Measurement) and bulge.quantity.value > CLEARLY
    return clearly and chord_D >= LONG_D


def _clear(measured: list[Measured]) -> bool:
    """Whether the outline carries both angles; where it does not, its bulge means nothing too.

    On 120 tuning scenes with true region maps 16 of 322 sides are left, half of them within 0.03
    of the chord and 7 degrees; a tenth is off by over 0.13 or 19 degrees.
    """
    return all(
        isinstance(item, Measurement) and item.quantity.parts["outline"] <= MOST_U_DEG
        for item in measured
        if not item.name.startswith(WHAT[0])
    )


def _limits() -> tuple[Limit, ...]:
    """The same limits for both sides."""
    found = []
    for name in NAMES.values():
        found.append(
            Limit(
                f"convexity-{name}",
                "max",
                0.05,
                "chord",
                "US Army STP 11-25R13-SM-TG A-12; 5 % house",
                "house",
                f"On the {name} side the solder bulges by {{value}}, over {{limit}}.",
                "Draw off the surplus with braid, or flux and reheat until the solder runs in.",
            )
        )
        for what, place in ((WHAT[1], "wire"), (WHAT[2], "cup")):
            found.append(
                Limit(
                    f"{what}-{name}",
                    "max",
                    90.0,
                    "deg",
                    "IPC-A-610 5, fig. 5-1",
                    "quoted",
                    f"On the {name} side solder meets the {place} at {{value}}, over {{limit}}.",
                    f"Flux and heat the {place} until the solder flows out on it.",
                )
            )
    return tuple(found)


LIMITS = _limits()

CHECK = Check(
    "fillet", "Fillet", measure, LIMITS, __doc__ or "", faults=dict.fromkeys(WHAT, Fault.FILLET)
)
