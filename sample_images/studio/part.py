"""What the renderer takes: meshes with a material, a region label and marks."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

# The numbers of the saved maps. They are written here a second time on purpose: the studio's
# truth must not depend on the code it judges; a test holds the two against each other.
BACKGROUND, INSULATION, CONDUCTOR, SOLDER, TERMINAL, HOUSING, STRAND, SLEEVE = range(8)
MARK_NAMES = (
    "end", "lip", "toe", "mouth", "short", "dry", "rough", "hole",
    "char", "spike", "surplus", "embed", "bridge",
)  # fmt: skip
MOUTH, SHORT, DRY, ROUGH, HOLE, CHAR, SPIKE, SURPLUS, EMBED, BRIDGE = (1 << k for k in range(3, 13))


@dataclass(frozen=True)
class Material:
    """rgb is linear: diffuse reflectance, or for metals the reflectance at normal incidence."""

    name: str
    kind: Literal["plastic", "metal", "skin", "cloth", "glass"]
    rgb: tuple[float, float, float]
    roughness: float
    metallic: float = 0.0
    texture: NDArray[np.float32] | None = None  # (h, w, 3) linear, mapped by uv


@dataclass(frozen=True)
class Part:
    """A triangle mesh in millimetres. `joint` 0 means that it belongs to no joint."""

    name: str
    vertices: NDArray[np.float32]  # (N, 3)
    faces: NDArray[np.uint32]  # (M, 3)
    label: int
    material: Material
    uv: NDArray[np.float32] | None = None  # (N, 2)
    colors: NDArray[np.float32] | None = None  # (N, 3) linear, in place of material.rgb
    marks: NDArray[np.uint16] | None = None  # (M,)
    smooth: bool = True
    joint: int = 0

    def moved(self, matrix: NDArray[np.float64]) -> Part:
        """This part under a rigid motion (4, 4)."""
        vertices = self.vertices @ matrix[:3, :3].T + matrix[:3, 3]
        return replace(self, vertices=vertices.astype(np.float32))


def as_part(name: str, mesh: tuple, label: int, material: Material, **more: object) -> Part:
    """A part of a mesh: its vertices and faces come first, whatever follows them."""
    vertices, faces = mesh[:2]
    return Part(name, vertices.astype(np.float32), faces.astype(np.uint32), label, material, **more)  # type: ignore[arg-type]
