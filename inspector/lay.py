"""Whether texture runs with the strands: fine ridges side by side, aslant along the wire.

Strands under a thin coat of solder are what a sound joint shows ("contour discernible"), and a
finder of wrinkles takes them for wrinkles. Wrinkles and grains run every way; strands run one way,
that of their lay. The structure tensor (Bigun and Granlund, First International Conference on
Computer Vision, 1987; from memory), summed over the area, tells the two apart: its coherence is 1
for parallel lines and 0 where all directions are alike.

The figures are ours, no source: strands under solder in another renderer's pictures had 0.31 to
0.75 (one of eight below the bound), rough solder of the studio 0.03 to 0.30, but for ridges across
the wire.
"""

from __future__ import annotations

import math

import cv2
import numpy as np

from inspector.model import Joint, Mask

COHERENT = 0.35
MOST_ASLANT_DEG = 50.0  # from the wire's axis; a lay is seldom steeper than half of that
FINEST_D = 0.008  # detail that counts, D
RIM_D = 0.035  # an area's own edges run along it whatever lies between them
FEWEST_PX = 60
LEAST_SLOPE = 3.0  # grey levels a pixel, root mean square: strands had 9 to 15
_SOBEL = 8.0  # how much the filter magnifies a slope


def runs_with_strands(joint: Joint, area: Mask, within: Mask) -> bool:
    """Whether the lines in `area` (h, w) run one way, and that along the wire.

    `within` is the surface that the area is part of; its rim does not count.
    """
    coherence, aslant_deg = grain(joint, area, within)
    return coherence >= COHERENT and abs(aslant_deg) <= MOST_ASLANT_DEG


def grain(joint: Joint, area: Mask, within: Mask) -> tuple[float, float]:
    """How much lines in the area run one way, 0..1, and which: degrees from the wire, -90..90.

    Nothing is told of an area of fewer than 60 pixels inside the rim, or without contrast: (0, 0).
    """
    rim = 2 * max(1, round(RIM_D * joint.d_px)) + 1
    inner = cv2.erode(within.astype(np.uint8), np.ones((rim, rim), np.uint8)) > 0
    chosen = inner & area
    if int(chosen.sum()) < FEWEST_PX:
        return 0.0, 0.0
    grey = cv2.cvtColor(joint.patch.rgb, cv2.COLOR_RGB2GRAY).astype(np.float32)
    fine = max(0.7, FINEST_D * joint.d_px)
    smooth = cv2.GaussianBlur(grey, (0, 0), fine)
    gx, gy = (cv2.Sobel(smooth, cv2.CV_32F, k, 1 - k)[chosen].astype(float) for k in (1, 0))
    xx, yy, xy = float(gx @ gx), float(gy @ gy), float(gx @ gy)
    total = xx + yy
    if total < (LEAST_SLOPE * _SOBEL) ** 2 * int(chosen.sum()):
        return 0.0, 0.0
    lines = 0.5 * math.atan2(2 * xy, xx - yy) + math.pi / 2  # along them the grey stays
    wire = math.atan2(joint.axis[1], joint.axis[0])
    aslant = (math.degrees(lines - wire) + 90.0) % 180.0 - 90.0
    return math.hypot(xx - yy, 2 * xy) / total, aslant
