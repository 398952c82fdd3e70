"""How sharp a joint is in its picture: the blur of its own outlines.

Brightness profiles are taken across the borders of the joint's regions, where a sharp camera sees
a step. Each is compared with steps of known blur (error functions of many widths and places); the
best match by correlation is the least-squares fit, since offset and contrast drop out. Profiles
that are no step (texture, noise, a highlight) match none and are left out.

Borders are taken apart by direction, because shake blurs only those across it, and the most
blurred direction counts. Within one direction a low percentile is taken: a border may be soft by
itself (a shadow, a round edge) but never sharper than the camera drew it.
"""

from __future__ import annotations

from functools import cache

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.special import erf

from inspector.model import Joint, Points, Region

HALF_D = 0.16  # a profile reaches this far to both sides of the border
STEPS = 33  # samples of a profile
ASIDE = 3  # neighbouring profiles averaged to this half-width in pixels, against noise
BORDERS = 400  # most borders looked at
MATCH = 0.93  # correlation with a step from which a profile counts
CONTRAST = 18.0  # least height of a step, of 255
FEWEST = 12  # profiles that make a direction count; corners alone give fewer
LOW = 15  # percentile taken of a direction's blurs
DIRECTIONS = 4
CLIPPED = 240.0  # at the top of the range a soft edge is cut into a sharp one
OUTLINE_PX = 3.0  # smoothing of the outline that the direction across it is taken from
NEAR_D = 2.0  # borders farther than this from the middle of the joint do not count


@cache
def _steps() -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Normalised steps (N, STEPS) and their blur (N,) as a share of the profile's half length."""
    x = np.linspace(-1.0, 1.0, STEPS)
    blurs = np.geomspace(0.02, 0.9, 28)
    places = np.linspace(-0.45, 0.45, 25)
    grid = np.array([(b, p) for b in blurs for p in places])
    shapes = erf((x[None] - grid[:, 1:]) / (grid[:, :1] * np.sqrt(2.0)))
    shapes -= shapes.mean(axis=1, keepdims=True)
    shapes /= np.linalg.norm(shapes, axis=1, keepdims=True)
    return shapes, grid[:, 0]


def edge_blur_px(joint: Joint) -> float | None:
    """Standard deviation of the blur of the joint's outlines, patch pixels.

    None if fewer than twelve borders in every direction show a step that can be read.
    """
    points, normals = _borders(joint)
    if len(points) < FEWEST:
        return None
    half = max(6.0, HALF_D * joint.d_px)
    blurs, good = _blurs(_profiles(joint.patch.rgb, points, normals, half), half)
    angle = np.arctan2(normals[:, 1], normals[:, 0]) % np.pi
    direction = np.floor(angle / np.pi * DIRECTIONS + 0.5).astype(int) % DIRECTIONS
    found = []
    for k in range(DIRECTIONS):
        chosen = good & (direction == k)
        if chosen.sum() >= FEWEST:
            found.append(float(np.percentile(blurs[chosen], LOW)))
    if not found:
        return None
    return max(found)


def _borders(joint: Joint) -> tuple[Points, Points]:
    """Border places (N, 2) of the joint's regions and their unit normals (N, 2)."""
    labels = joint.patch.labels
    middle = (np.asarray(joint.end) + np.asarray(joint.lip)) / 2
    found_at, found_way = [], []
    for region in (Region.INSULATION, Region.TERMINAL, Region.CONDUCTOR, Region.SOLDER):
        mask = (labels == region) & joint.own
        if not mask.any():
            continue
        soft = cv2.GaussianBlur(mask.astype(np.float32), (0, 0), OUTLINE_PX)
        gx, gy = (cv2.Sobel(soft, cv2.CV_32F, k, 1 - k) for k in (1, 0))
        ys, xs = np.nonzero(mask & (cv2.erode(mask.astype(np.uint8), np.ones((3, 3))) == 0))
        at = np.stack([xs, ys], axis=-1).astype(float)
        way = np.stack([gx[ys, xs], gy[ys, xs]], axis=-1).astype(float)
        size = np.hypot(*way.T)
        near = np.hypot(*(at - middle).T) <= NEAR_D * joint.d_px
        keep = near & (size > 0)
        found_at.append(at[keep])
        found_way.append(way[keep] / size[keep, None])
    if not found_at:
        return np.zeros((0, 2)), np.zeros((0, 2))
    at, way = np.concatenate(found_at), np.concatenate(found_way)
    every = max(1, len(at) // BORDERS)
    return at[::every], way[::every]


def _profiles(
    rgb: NDArray[np.uint8], points: Points, normals: Points, half: float
) -> NDArray[np.float64]:
    """Brightness (N, STEPS) across each border; nan where it leaves the patch.

    The channel that differs most between the two sides is taken, so that a border between
    colours of equal brightness counts too.
    """
    along = np.linspace(-half, half, STEPS)
    tangent = np.stack([-normals[:, 1], normals[:, 0]], axis=-1)
    total: NDArray[np.float64] = np.zeros((len(points), STEPS, 3))
    high, wide = rgb.shape[:2]
    outside = np.zeros((len(points), STEPS), bool)
    for aside in range(-ASIDE, ASIDE + 1):
        at = points + aside * tangent
        place = at[:, None, :] + along[None, :, None] * normals[:, None, :]
        x, y = (place[..., k].astype(np.float32) for k in (0, 1))
        total += cv2.remap(rgb, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
        outside |= (x < 0) | (y < 0) | (x > wide - 1) | (y > high - 1)
    total /= 2 * ASIDE + 1
    third = STEPS // 3
    step = np.abs(total[:, -third:].mean(axis=1) - total[:, :third].mean(axis=1))
    best = np.take_along_axis(total, step.argmax(axis=1)[:, None, None], axis=2)[..., 0]
    return np.where(outside, np.nan, best)


def _blurs(
    profiles: NDArray[np.float64], half: float
) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    """Blur (N,) in pixels of the step that fits each profile best, and whether it fits."""
    shapes, blurs = _steps()
    known = ~np.isnan(profiles).any(axis=1)
    values = np.nan_to_num(profiles)
    centred = values - values.mean(axis=1, keepdims=True)
    size = np.linalg.norm(centred, axis=1)
    match = np.abs(centred @ shapes.T) / np.maximum(size, 1e-9)[:, None]
    best = match.argmax(axis=1)
    height = np.ptp(values, axis=1)
    clipped = (values >= CLIPPED).sum(axis=1) > STEPS // 8
    good = known & (match.max(axis=1) >= MATCH) & (height >= CONTRAST) & ~clipped
    return blurs[best] * half, good
