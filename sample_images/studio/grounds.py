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

from . import grounds_made as made, grounds_printed as printed
from .grounds_made import Stuff
from .grounds_noise import worn
from .part import Material, Part

Look = Literal["train", "tuning", "calibration", "test"]
REACH_MM = 700.0  # half the side of the sheet
NEAR_MM = 110.0  # half the side of the part that shows relief

# name: (maker, weight). After the counts in docs: black mats and white paper lead.
TRAIN: dict[str, tuple[Callable[[np.random.Generator], Stuff], float]] = {
    "leather": (made.leather, 3), "rubber": (made.rubber, 3), "white-paper": (made.white_paper, 3),
    "laminate": (made.laminate, 2.5), "moulded-mat": (printed.moulded_mat, 2.5), "squared": (printed.squared, 1.5),
    "lined": (printed.lined, 1), "wood": (made.wood, 2.5), "cutting-mat": (printed.cutting_mat, 2),
    "cardboard": (made.cardboard, 1.5), "weave": (made.weave, 1.5), "felt": (made.felt, 1),
    "sheet-metal": (made.sheet_metal, 1), "print": (printed.print_page, 1), "stone": (made.stone, 1),
    "tiles": (made.tiles, 0.7), "picture": (printed.picture, 2), "carpet": (made.carpet, 0.6),
    "paint": (made.paint, 2), "chipboard": (made.chipboard, 0.8), "scorched": (made.scorched, 1),
}  # fmt: skip
TEST: dict[str, tuple[Callable[[np.random.Generator], Stuff], float]] = {
    "dotted": (printed.dotted, 1.5), "dark-cutting-mat": (partial(printed.cutting_mat, dark=True), 3),
    "twill": (partial(made.weave, twill=True), 1), "cork": (made.cork, 1), "marble": (made.marble, 1),
    "foil": (made.foil, 0.4), "terrazzo": (made.terrazzo, 1), "parquet": (made.parquet, 1.5),
    "perforated": (made.perforated, 1), "diagram": (printed.diagram, 1.5), "newsprint": (printed.newsprint, 1.5),
    "held-picture": (partial(printed.picture, held=True), 1.5),
}  # fmt: skip


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
