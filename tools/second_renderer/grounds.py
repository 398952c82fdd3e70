"""What lies under the scene: paper, mats, wood, cloth, board, each a picture with its relief."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from .blender import Material, Nodes, add_picture
from .fields import Rng, cloud
from .meshes import Array

SIZE_PX = 1024
SPAN = 20.0  # side of the picture in D; beyond it is mirrored
SOFT_EDGE = 0.02  # of printed lines
GROUNDS = (
    "paper", "paper", "black", "black", "blue", "lined", "squared", "wood", "cutting", "cloth",
    "board",
)  # fmt: skip
CLOTHS = ((0.32, 0.30, 0.26), (0.06, 0.08, 0.14), (0.42, 0.40, 0.38), (0.2, 0.05, 0.05))
TURN = 6.283


@dataclass(frozen=True, slots=True)
class _Ground:
    """Colour (h, w, 3), height (h, w), roughness; strength and depth in D of the relief."""

    colour: Array
    height: Array
    rough: float
    bump: float
    depth: float


@dataclass(frozen=True, slots=True)
class _Sheet:
    """Places x, y (h, w) in D and a fine grain (h, w), 0 to 1."""

    x: Array
    y: Array
    grain: Array


def _lines(across: Array, pitch: float, width: float) -> Array:
    """Lines of that pitch and width across a coordinate: 1 on a line, 0 beside it."""
    off = np.abs((across + pitch / 2) % pitch - pitch / 2)
    return np.clip((width / 2 - off) / SOFT_EDGE + 0.5, 0, 1)


def _blend(part: ArrayLike, a: ArrayLike, b: ArrayLike) -> Array:
    """Colour a where part (h, w) is 0, b where it is 1."""
    share = np.asarray(part)[..., None]
    return (1 - share) * np.array(a) + share * np.array(b)


def _paper(rng: Rng, sheet: _Sheet) -> _Ground:
    tone, tint = rng.uniform(0.6, 0.82), rng.uniform(0.9, 1.0)
    flat = np.array([tone, tone * (1 + tint) / 2, tone * tint])
    return _Ground(_blend(sheet.grain, flat * 0.97, flat), sheet.grain, 0.9, 0.3, 0.03)


def _printed(sheet: _Sheet, on: Array) -> _Ground:
    colour = _blend(0.8 * on, (0.74, 0.74, 0.71), (0.32, 0.42, 0.62))
    return _Ground(colour, sheet.grain, 0.9, 0.3, 0.03)


def _lined(rng: Rng, sheet: _Sheet) -> _Ground:
    return _printed(sheet, _lines(sheet.y, rng.uniform(1.1, 2.6), 0.08))


def _squared(rng: Rng, sheet: _Sheet) -> _Ground:
    pitch = rng.uniform(1.1, 2.6)
    on = np.maximum(_lines(sheet.y, pitch, 0.08), _lines(sheet.x, pitch, 0.08))
    return _printed(sheet, on)


def _black(rng: Rng, sheet: _Sheet) -> _Ground:
    tone = rng.uniform(0.012, 0.04)
    colour = _blend(sheet.grain, (tone * 0.8,) * 3, (tone * 1.2,) * 3)
    return _Ground(colour, sheet.grain, rng.uniform(0.45, 0.8), 0.7, 0.08)


def _wood(rng: Rng, _sheet: _Sheet) -> _Ground:
    grain = 0.6 * cloud(rng, SIZE_PX, 1.0, 12) + 0.4 * cloud(rng, SIZE_PX, 1.6, 6)
    part = np.clip((grain - 0.25) * 2, 0, 1)
    colour = _blend(part, (0.20, 0.095, 0.035), (0.50, 0.30, 0.14))
    return _Ground(colour, grain, rng.uniform(0.3, 0.6), 0.3, 0.05)


def _blue(rng: Rng, sheet: _Sheet) -> _Ground:
    pitch = SPAN / rng.integers(4, 10)
    wave = np.sin(TURN * sheet.y / pitch)
    rib = np.clip((wave - rng.uniform(0.4, 0.9)) * 6, 0, 1)
    base = (0.02, rng.uniform(0.10, 0.2), rng.uniform(0.35, 0.5))
    colour = _blend(0.1 * sheet.grain, base, (0.3, 0.3, 0.4))
    return _Ground(colour, rib + 0.1 * sheet.grain, rng.uniform(0.4, 0.65), 0.6, 0.15)


def _cutting(rng: Rng, sheet: _Sheet) -> _Ground:
    x, y = sheet.x, sheet.y
    pitch = SPAN / rng.integers(5, 10)
    on = np.maximum(_lines(x, pitch, 0.08), _lines(y, pitch, 0.08))
    beside = np.abs((y + pitch / 2) % pitch - pitch / 2) < pitch / 14
    on = np.maximum(on, 0.5 * _lines(x, pitch / 5, 0.05) * beside)
    scratch = np.clip((cloud(rng, SIZE_PX, 0.8, 30) - 0.9) * 8, 0, 1)
    base = _blend(0.5 * scratch, (0.015, 0.13, 0.085), (0.10, 0.25, 0.2))
    part = on[..., None]
    colour = (1 - part) * base + part * np.array([0.48, 0.52, 0.3])
    return _Ground(colour, sheet.grain, 0.6, 0.3, 0.04)


def _cloth(rng: Rng, sheet: _Sheet) -> _Ground:
    pitch = rng.uniform(0.2, 0.34)
    weave = 0.5 + 0.5 * np.sin(TURN * sheet.x / pitch) * np.sin(TURN * sheet.y / pitch)
    base = np.array(CLOTHS[rng.integers(len(CLOTHS))])
    colour = _blend(0.7 * weave + 0.3 * sheet.grain, 0.55 * base, base)
    return _Ground(colour, weave, 0.95, 0.6, 0.1)


def _board(rng: Rng, sheet: _Sheet) -> _Ground:
    colour = _blend(cloud(rng, SIZE_PX, 1.0, 4), (0.27, 0.17, 0.09), (0.44, 0.31, 0.18))
    return _Ground(colour, sheet.grain, 0.85, 0.3, 0.04)


_MAKERS: dict[str, Callable[[Rng, _Sheet], _Ground]] = {
    "paper": _paper,
    "lined": _lined,
    "squared": _squared,
    "black": _black,
    "wood": _wood,
    "blue": _blue,
    "cutting": _cutting,
    "cloth": _cloth,
    "board": _board,
}


def ground(rng: Rng, kind: str) -> Material:
    """Material of the plane under the scene, one of GROUNDS."""
    grain = cloud(rng, SIZE_PX, 0.6)
    y, x = np.meshgrid(*[np.linspace(0, SPAN, SIZE_PX)] * 2, indexing="ij")
    look = _MAKERS[kind](rng, _Sheet(x, y, grain))
    nodes = Nodes("ground")
    place = nodes.add("TexCoord").outputs["Object"]
    where = nodes.add("Mapping", Vector=place, Scale=(1 / SPAN,) * 3).outputs[0]
    image = add_picture("ground", look.colour, look.height)
    node = nodes.add("TexImage", {"image": image, "extension": "MIRROR"}, Vector=where)
    colour, height = node.outputs["Color"], node.outputs["Alpha"]
    return nodes.finish(colour, look.rough, 0.0, height, look.bump, look.depth)
