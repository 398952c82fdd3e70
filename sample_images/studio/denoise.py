"""Takes the renderer's own grain out of the light, which no camera has.

A pixel far brighter than its neighbours is a path that met a lamp by chance: it is brought down to
them. What grain is left is averaged over neighbours that lie on the same surface and are about as
bright: an edge-avoiding wavelet (Dammertz, Sewtz, Hanika and Lensch, Edge-avoiding a-trous wavelet
transform for fast global illumination filtering, High Performance Graphics 2010; from memory),
guided by albedo and normals. The camera's noise comes later and is another thing. The figures below
are ours, no source.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from .variant import Native

Picture = NDArray[np.float32]  # (h, w, 3)
Planes = NDArray[np.float32]  # (3, h, w): each colour apart is twice as fast to reckon with
Grey = NDArray[np.float32]  # (h, w)
GUIDE_SAMPLES = 4
LEVELS = 2  # so it reaches three pixels
_BRIGHTER = 1.5  # times the second brightest of its eight neighbours: a firefly
_ALIKE = 0.3  # natural logarithm of the ratio of two lights that are averaged
_FLAT = 32.0  # how fast the weight falls as normals part: to a third at 14 degrees
_DARK = 0.02  # of reflectance, so that black surfaces divide well
_KERNEL = {1: 0.6, 2: 0.36}  # weight of a neighbour by how many steps it lies away
_ROWS, _EDGE = 512, 8  # rows at a time, for the memory's sake, and what they overlap


def without_fireflies(light: Picture) -> Picture:
    """The light (h, w, 3) with single pixels, and pairs of them, brought down to what lies around.

    A line one pixel wide stays, since each of its pixels has two neighbours of its own kind; glints
    of a pixel or two go, as they do in a phone.
    """
    brightest = np.pad(np.maximum.reduce(cv2.split(light)), 1, mode="edge")
    h, w = light.shape[:2]
    around = [(dy, dx) for dy in range(3) for dx in range(3) if (dy, dx) != (1, 1)]
    first = second = np.zeros((h, w), np.float32)
    for y, x in around:
        one = brightest[y : y + h, x : x + w]
        second = np.maximum(second, np.minimum(first, one))
        first = np.maximum(first, one)
    own = brightest[1:-1, 1:-1]
    factor = np.minimum(1.0, _BRIGHTER * second / np.maximum(own, 1e-9))
    return light * np.asarray(factor, np.float32)[..., None]


def guides(mi: Native, scene: Native, seed: int) -> tuple[Picture, Picture]:
    """Albedo and unit normals of what each pixel shows, both (h, w, 3); 0 where there is none."""
    aov = mi.load_dict({"type": "aov", "aovs": "albedo:albedo,nn:sh_normal"})
    both = np.array(mi.render(scene, integrator=aov, spp=GUIDE_SAMPLES, seed=seed), np.float32)
    both = both[..., -6:]
    # a few pixels have no albedo (nan): without a normal they are averaged with no other
    both[~np.isfinite(both).all(axis=2)] = 0.0
    return both[..., :3], both[..., 3:]


def _tone(light: Planes, floor: float) -> Grey:
    """Logarithm of the light over a floor, without single dark or bright pixels."""
    return cv2.medianBlur(np.log(light.mean(axis=0) + np.float32(floor)), 3)


def _level(light: Planes, normals: Planes, floor: float, step: int) -> Planes:
    """One level of the wavelet: each pixel and its eight neighbours `step` pixels away."""
    tone = _tone(light, floor)
    total, weights = light.copy(), np.ones_like(tone)
    # two neighbours weigh as much for each other: four of the eight directions do for all
    for dy, dx in ((0, 1), (1, -1), (1, 0), (1, 1)):
        here, there = _pair(step * dy, step * dx)
        apart = (tone[there] - tone[here]) / np.float32(_ALIKE)
        turned = np.float32(1) - sum(n[here] * n[there] for n in normals)
        weight = np.exp(-(apart * apart) - np.float32(_FLAT) * np.maximum(turned, 0))
        weight *= np.float32(_KERNEL[abs(dy) + abs(dx)])
        for one, other in ((here, there), (there, here)):
            for into, plane in zip(total, light, strict=True):
                into[one] += weight * plane[other]
            weights[one] += weight
    return total / weights


def _pair(dy: int, dx: int) -> tuple[tuple[slice, slice], tuple[slice, slice]]:
    """All pixels that have a neighbour `dy` rows below and `dx` columns right; those neighbours."""
    across = slice(max(0, -dx), -dx if dx > 0 else None)
    beside = slice(max(0, dx), dx if dx < 0 else None)
    return (slice(0, -dy if dy else None), across), (slice(dy, None), beside)


def smooth(light: Picture, albedo: Picture, normals: Picture) -> Picture:
    """The light (h, w, 3) without grain; colours and textures stay, for they are divided out.

    All three must be finite.
    """
    out = np.empty_like(light)
    h = len(light)
    # one floor for all rows, or else strips would not fit together
    typical = float(np.sqrt(np.maximum(light[::4, ::4], 0)).mean()) ** 2  # fireflies weigh little
    floor = 1e-3 * typical / (float(albedo.mean()) + _DARK) + 1e-12
    for top in range(0, h, _ROWS):
        first, last = max(0, top - _EDGE), min(h, top + _ROWS + _EDGE)
        rows = np.s_[first:last]
        surface = np.maximum(albedo[rows], 0) + np.float32(_DARK)
        falls = without_fireflies(light[rows]) / surface
        planes, turned = (np.stack(cv2.split(k)) for k in (falls, normals[rows]))
        for level in range(LEVELS):
            planes = _level(planes, turned, floor, 1 << level)
        done = cv2.merge(list(planes)) * surface
        out[top : top + _ROWS] = done[top - first : top - first + _ROWS]
    return out
