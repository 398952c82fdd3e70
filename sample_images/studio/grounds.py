"""What the joint lies on: a wide sheet at z = 0 with a texture, some of it uneven.

Which grounds a look may use is FAMILIES: the test look has its own, so that a score on it says
something about grounds that training never showed.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from . import (
    grounds_hard as hard,
    grounds_mats as mats,
    grounds_pages as pages,
    grounds_soft as soft,
)
from .grounds_noise import worn
from .grounds_stuff import Stuff
from .part import Material, Part

Look = Literal["train", "tuning", "calibration", "test"]
REACH_MM = 700.0  # half the side of the sheet
NEAR_MM = 110.0  # half the side of the part that shows relief

# name: (maker, weight). After the counts in docs: black mats and white paper lead.
TRAIN: dict[str, tuple[Callable[[np.random.Generator], Stuff], float]] = {
    "leather": (soft.leather, 3),
    "rubber": (soft.rubber, 3),
    "white-paper": (soft.white_paper, 3),
    "laminate": (hard.laminate, 2.5),
    "moulded-mat": (mats.moulded_mat, 2.5),
    "squared": (mats.squared, 1.5),
    "lined": (mats.lined, 1),
    "wood": (hard.wood, 2.5),
    "cutting-mat": (mats.cutting_mat, 2),
    "cardboard": (soft.cardboard, 1.5),
    "weave": (soft.weave, 1.5),
    "felt": (soft.felt, 1),
    "sheet-metal": (hard.sheet_metal, 1),
    "print": (pages.print_page, 1),
    "stone": (hard.stone, 1),
    "tiles": (hard.tiles, 0.7),
    "picture": (pages.picture, 2),
    "carpet": (soft.carpet, 0.6),
    "paint": (soft.paint, 2),
    "chipboard": (hard.chipboard, 0.8),
    "scorched": (hard.scorched, 1),
}
TEST: dict[str, tuple[Callable[[np.random.Generator], Stuff], float]] = {
    "dotted": (mats.dotted, 1.5),
    "dark-cutting-mat": (partial(mats.cutting_mat, dark=True), 3),
    "twill": (partial(soft.weave, twill=True), 1),
    "cork": (soft.cork, 1),
    "marble": (hard.marble, 1),
    "foil": (hard.foil, 0.4),
    "terrazzo": (hard.terrazzo, 1),
    "parquet": (hard.parquet, 1.5),
    "perforated": (hard.perforated, 1),
    "diagram": (pages.diagram, 1.5),
    "newsprint": (pages.newsprint, 1.5),
    "held-picture": (partial(pages.picture, held=True), 1.5),
}


def families(look: Look) -> dict[str, tuple[Callable[[np.random.Generator], Stuff], float]]:
    """Grounds that a look may use."""
    return TEST if look == "test" else TRAIN


def _surface(
    stuff: Stuff, turn_rad: float, shift_mm: NDArray[np.float64]
) -> tuple[NDArray[np.float64], ...]:
    """Vertices (N, 3), faces (M, 3), uv (N, 2)."""
    if stuff.height is None:
        at = np.array([-REACH_MM, REACH_MM])
    else:
        near = np.linspace(-NEAR_MM, NEAR_MM, 361)
        far = np.geomspace(NEAR_MM + 6, REACH_MM, 12)
        at = np.concatenate([-far[::-1], near, far])
    x, y = np.meshgrid(at, at)
    u = (np.cos(turn_rad) * x + np.sin(turn_rad) * y + shift_mm[0]) / stuff.tile_mm
    v = (-np.sin(turn_rad) * x + np.cos(turn_rad) * y + shift_mm[1]) / stuff.tile_mm
    z = (
        np.zeros_like(x)
        if stuff.height is None
        else stuff.height(u * stuff.tile_mm, v * stuff.tile_mm)
    )
    n = len(at)
    a = (np.arange(n - 1)[:, None] * n + np.arange(n - 1)).ravel()
    faces = np.concatenate([np.stack([a, a + 1, a + n + 1], 1), np.stack([a, a + n + 1, a + n], 1)])
    return np.stack([x, y, z], -1).reshape(-1, 3), faces, np.stack([u, v], -1).reshape(-1, 2)


def ground(rng: np.random.Generator, look: Look, family: str | None = None) -> list[Part]:
    """The bench under the joint, its highest points at z = 0; label 0.

    uv runs beyond 0..1: the texture repeats. family: a name from families(look), or any.
    """
    table = families(look)
    weights = np.array([w for _, w in table.values()])
    name = family or str(rng.choice(list(table), p=weights / weights.sum()))
    stuff = table[name][0](rng)
    albedo = stuff.albedo
    if rng.random() < stuff.worn:
        albedo = worn(rng, albedo, stuff.worn)
    vertices, faces, uv = _surface(stuff, float(rng.uniform(0, 2 * np.pi)), rng.uniform(0, 500, 2))
    material = Material(
        name=f"ground-{name}",
        kind="metal" if stuff.metallic else "plastic",
        rgb=tuple(float(k) for k in albedo[::32, ::32].mean((0, 1))),  # type: ignore[arg-type]
        roughness=float(stuff.roughness),
        metallic=stuff.metallic,
        texture=np.clip(albedo, 0.002, 0.95).astype(np.float32),
    )
    return [
        Part(
            name=f"ground-{name}",
            vertices=vertices.astype(np.float32),
            faces=faces.astype(np.uint32),
            label=0,
            material=material,
            uv=uv.astype(np.float32),
            smooth=stuff.height is not None,
        )
    ]
