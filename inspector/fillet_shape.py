"""The numbers of a fillet's line: convexity, and the angles at conductor and cup.

Convexity is the largest deviation from the chord, outward positive, as a share of the chord. The
angles come from a circle through the whole line, or through the part near that end where one
circle does not fit it all. Each number comes with the parts of its standard uncertainty.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from inspector.arcfit import Arc, fit_arc
from inspector.areas import line
from inspector.fillet_line import RIM_D, FreeSurface
from inspector.model import Evidence, Measured, Measurement
from inspector.uncertainty import combine, quantity

if TYPE_CHECKING:
    from inspector.model import Joint, Points

LEAST_CHORD_D, LEAST_CHORD_PX = 0.2, 10.0
LEAST_RISE_D, LEAST_RISE_PX = 0.05, 4.0  # a coat of the strands alone is no fillet
END_PX = 1.5  # outline this close to either end is rounded by the pixels
LOCAL = 0.45  # share of the outline taken for an end when one circle does not fit it all
MISFIT_PX = 0.6  # scatter from which one circle does not fit
OUTLINE_PX = 0.4  # standard uncertainty of the outline's place that a fit does not average out
CONTACT_PX = 1.5  # standard uncertainty of where the outline meets the other metal
ROUND_ABOUT = 1.7  # outline longer than this many chords runs around something else
# Seen a little aslant the outline is not one meridian of the fillet; from scenes of known shape.
SILHOUETTE, SILHOUETTE_DEG = 0.025, 8.0
# A lip seen aslant is an ellipse as deep as sin(tilt) of its width: inside the cup's own outline
# it may stand for the fillet's outline by up to half of that; rectangular distribution.
LIP = 0.5 / np.sqrt(12.0)
OUTSIDE_D = 0.05  # a lip seen aslant bulges as an ellipse, but not out of the cup's own outline
CARRIED = 0.5  # share of the chord by which a fillet may be carried back to its foot
FOOT_D, MOST_LEFT = 0.05, 0.25  # what may be left out at the foot; of the outline at either end
WHAT = ("convexity", "angle-conductor", "angle-cup")


def shape_numbers(
    joint: Joint, surface: FreeSurface, name: str, sine: float
) -> list[Measured] | None:
    """Convexity in chords, both angles in degrees; None of a line too short or too bent for them.

    name: the side's, left or right. sine: of the most tilt that the wire's end allows.
    """
    points = surface.points
    chord = points[-1] - points[0]
    length = float(np.hypot(*chord))
    rise = float(chord[1]) - surface.core_slope * float(chord[0])
    short = length < max(LEAST_CHORD_D * joint.d_px, LEAST_CHORD_PX)
    if short or rise < max(LEAST_RISE_D * joint.d_px, LEAST_RISE_PX) or chord[0] <= 0:
        return None
    gone = np.concatenate([[0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])
    inner = points[(gone > END_PX) & (gone < gone[-1] - END_PX)]
    whole = fit_arc(inner)
    if whole is None or gone[-1] > ROUND_ABOUT * length:
        return None
    foot = _foot(whole, surface, length)
    length = float(np.hypot(*(points[-1] - foot)))
    bulge = convexity(joint, surface, np.vstack([foot, points]), name, sine)
    found: list[Measured] = [bulge]
    for what, at_start in ((WHAT[1], True), (WHAT[2], False)):
        local = _local(inner, at_start=at_start)
        arc = whole if whole.scatter < MISFIT_PX or local is None else local
        angle = _angle(arc, surface, length, at_start=at_start)
        other = angle if local is None else _angle(local, surface, length, at_start=at_start)
        told = (
            arc.u_start_deg if at_start else arc.u_end_deg,
            float(np.degrees(2.0 * OUTLINE_PX / length)),
            _contact_deg(arc, angle, at_start=at_start),
            abs(other - angle) / 2.0,
            float(np.degrees(surface.u_core_slope)) if at_start else 0.0,
        )
        parts = {"outline": combine(told), "silhouette": SILHOUETTE_DEG}
        value = quantity(f"fillet.{what}", angle, "deg", parts)
        found.append(Measurement(f"{what}-{name}", value, bulge.evidence))
    return found


def convexity(
    joint: Joint, surface: FreeSurface, points: Points, name: str, sine: float, hidden: float = 0.0
) -> Measurement:
    """Convexity of an outline (n, 2); for `name` and `sine` see shape_numbers.

    hidden: standard uncertainty, as a share of the value, for a foot that does not show.
    """
    chord = points[-1] - points[0]
    length = float(np.hypot(*chord))
    value, u_shape = _deviation(points, chord / length, length)
    parts = {"edge": OUTLINE_PX / length, "shape": u_shape, "ends": _ends(points, joint.d_px)}
    out = surface.outside_px > OUTSIDE_D * joint.d_px
    parts["silhouette"] = SILHOUETTE if out else float(np.hypot(SILHOUETTE, LIP * sine))
    if hidden:
        parts["hidden"] = hidden * abs(value)
    stated = quantity("fillet.convexity", value, "chord", parts)
    return Measurement(f"convexity-{name}", stated, (_drawn(joint, surface),))


def _deviation(points: Points, along: Points, length: float) -> tuple[float, float]:
    """Largest signed deviation from the chord over its length, and its uncertainty from noise.

    A free surface is smooth, so noise is taken out with a cubic; where that does not follow the
    outline, a running mean does. Of an outline that bulges in one place and draws in at another,
    the bulge counts as soon as it is half as large, since it is the bulge that is judged.
    """
    outward = np.array([-along[1], along[0]])
    away = (points - points[0]) @ outward
    place = (points - points[0]) @ along / length
    smooth = np.polyval(np.polyfit(place, away, 3), place)
    if float(np.std(away - smooth)) > MISFIT_PX:
        smooth = np.convolve(np.pad(away, 3, mode="edge"), np.ones(7) / 7, "valid")
    spread = float(np.std(away - smooth)) / np.sqrt(3.0)
    ends = smooth[0] + place * (smooth[-1] - smooth[0])  # the chord goes through the smooth line
    high, low = float((smooth - ends).max()), float((smooth - ends).min())
    value = high if high >= 0.5 * abs(low) else low
    return value / length, spread / length


def _ends(points: Points, d_px: float) -> float:
    """Standard uncertainty of the convexity for want of the places where the fillet ends.

    At the cup the outline may run on around the lip's rim, at the conductor it may begin on
    strands: half of what the convexity changes by when either end is left out.
    """
    gone = np.concatenate([[0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])
    found = []
    late = gone < gone[-1] - min(RIM_D * d_px, MOST_LEFT * gone[-1])
    early = gone > min(FOOT_D * d_px, MOST_LEFT * gone[-1])
    for use in (np.ones(len(points), bool), late, early):
        part = points[use]
        chord = part[-1] - part[0]
        length = max(float(np.hypot(*chord)), 1.0)
        found.append(_deviation(part, chord / length, length)[0])
    return max(abs(value - found[0]) for value in found) / 2.0


def _contact_deg(arc: Arc, angle_deg: float, *, at_start: bool) -> float:
    """Standard uncertainty of an angle for want of the place where the outline meets the metal.

    At the foot the conductor's outline may lie off by a little; the flatter the angle the farther
    that shifts the foot: u(theta) = u curvature / sin(theta), at most what theta = 0 allows.
    """
    if not at_start:
        return float(np.degrees(CONTACT_PX * arc.curvature))
    grazing = np.sqrt(2.0 * OUTLINE_PX * arc.curvature)
    sine = max(float(np.sin(np.radians(angle_deg))), 1e-6)
    return float(np.degrees(min(grazing, OUTLINE_PX * arc.curvature / sine)))


def _local(points: Points, *, at_start: bool) -> Arc | None:
    """The circle through the outline near one end."""
    count = max(8, int(LOCAL * len(points)))
    return fit_arc(points[:count] if at_start else points[-count:])


def _foot(arc: Arc, surface: FreeSurface, length: float) -> Points:
    """Where the fillet, carried back along its curve, stands on the conductor's outline."""
    first = surface.points[0]
    on_core = np.array([first[0], surface.core_offset + surface.core_slope * first[0]])
    return arc.meets(on_core, surface.core_slope, CARRIED * length)


def _angle(arc: Arc, surface: FreeSurface, length: float, *, at_start: bool) -> float:
    """Angle through the solder between its surface and the metal that it meets, degrees.

    At the conductor the metal is the conductor's own outline; at the cup it is the lip's face,
    square to the axis.
    """
    point = _foot(arc, surface, length) if at_start else surface.points[-1]
    tangent = arc.tangent(point, at_start=at_start)
    slope = float(np.degrees(np.arctan2(tangent[1], tangent[0])))
    core = float(np.degrees(np.arctan(surface.core_slope)))
    angle = slope - core if at_start else 90.0 - slope
    return float(np.clip(angle, 0.0, 180.0))


def _drawn(joint: Joint, surface: FreeSurface) -> Evidence:
    """The outline as the overlay draws it."""
    return line(joint, joint.from_frame(in_frame(joint, surface)))


def in_frame(joint: Joint, surface: FreeSurface) -> Points:
    """The line (n, 2) as s and t of the joint's frame, in D."""
    return np.asarray(surface.points * (1.0, float(surface.side)) / joint.d_px, float)
