"""Things that lie about, away from the joints: screws, wires, tweezers, crumbs, cut strands."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .blender import Label, Material, add_mesh
from .fields import Rng, waves
from .materials import INSULATION, copper_strands, insulation, solder, terminal
from .meshes import Array, Mesh, lathe, tubes

KINDS = ("screw", "wire", "tweezers", "crumb", "strand", "crumb")
WIRE_RADIUS = 0.5
THIN = 0.001


@dataclass(frozen=True, slots=True)
class _Bench:
    """Height of the floor, half width of what must stay free, the metal of tools."""

    floor: float
    half_width: float
    steel: Material

    def spot(self, rng: Rng, far: float) -> Array:
        """A place (3,) on the floor beside the joints, up to `far` from them."""
        side = rng.choice([-1, 1])
        x = rng.uniform(-6, 6)
        return np.array([x, side * (self.half_width + rng.uniform(1.2, far)), self.floor])


def add_clutter(rng: Rng, floor: float, half_width: float, amount: int) -> None:
    """Put that many things into the scene, beyond half_width on both sides of the joints."""
    bench = _Bench(floor, half_width, terminal(rng, "tin"))
    for kind in rng.choice(KINDS, amount):
        _ADD[str(kind)](rng, bench, rng.uniform(0, 2 * np.pi))


def _screw(rng: Rng, bench: _Bench, azimuth: float) -> None:
    cosine, sine = np.cos(azimuth), np.sin(azimuth)
    spin = np.array([[cosine, -sine, 0], [sine, cosine, 0], [0, 0, 1]])
    thread = [(x, 0.3 + 0.05 * (i % 2)) for i, x in enumerate(np.arange(0.5, 3, 0.09))]
    head = [(0, THIN), (0, 0.5), (0.12, 0.62), (0.4, 0.62), (0.45, 0.3)]
    screw = lathe([*head, *thread, (3.05, THIN)], 32)
    vertices = screw.vertices @ spin.T + bench.spot(rng, 4) + [0, 0, 0.6]
    add_mesh("screw", Mesh(vertices, screw.faces), bench.steel, Label.GROUND)


def _wire(rng: Rng, bench: _Bench, _azimuth: float) -> None:
    side = rng.choice([-1, 1])
    x = np.linspace(-20, 20, 80)
    off = bench.half_width + rng.uniform(1.8, 4)
    y = side * (off + 0.02 * (x - rng.uniform(-5, 5)) ** 2)
    line = np.stack([x, y, np.full(80, bench.floor + WIRE_RADIUS)], 1)
    names = list(INSULATION)
    cover = insulation(rng, names[rng.integers(len(names))])
    add_mesh("other wire", tubes(line[None], WIRE_RADIUS, 32), cover, Label.GROUND)


def _tweezers(rng: Rng, bench: _Bench, _azimuth: float) -> None:
    at = bench.spot(rng, 3)
    side = np.sign(at[1])
    for lean in (0.12, 0.24):
        part = np.linspace(0, 1, 12)
        line = np.stack(
            [
                at[0] + 16 * part * np.cos(lean + 0.6),
                at[1] + side * 16 * part * np.sin(lean + 0.6),
                bench.floor + 0.35 + 0 * part,
            ],
            1,
        )
        arm = tubes(line[None], 0.12 + 0.5 * part[None] ** 0.7, 4)
        add_mesh("tweezers", arm, bench.steel, Label.GROUND)


def _crumb(rng: Rng, bench: _Bench, _azimuth: float) -> None:
    """A crumb of solder."""
    profile = [(-1, THIN), (-0.9, 0.45), (-0.6, 0.8), (0, 1), (0.6, 0.8), (0.9, 0.45), (1, THIN)]
    ball = lathe(profile, 20)
    size = rng.uniform(0.1, 0.3)
    rough = 1 + 0.3 * waves(rng, 1.5, 6)(*ball.vertices.T)[:, None]
    at = bench.spot(rng, 3)
    at[2] += size * 0.7
    crumb = Mesh(ball.vertices * rough * size + at, ball.faces)
    add_mesh("crumb", crumb, solder(rng), Label.GROUND)


def _strand(rng: Rng, bench: _Bench, azimuth: float) -> None:
    """A strand cut off."""
    along = np.linspace(0, rng.uniform(0.8, 2.5), 30)
    heading = azimuth + rng.normal(0, 0.5) * along
    pitch = along[1]
    way = np.stack(
        [np.cumsum(np.cos(heading)) * pitch, np.cumsum(np.sin(heading)) * pitch, 0.03 + 0 * along],
        1,
    )
    line = bench.spot(rng, 4) + way
    add_mesh("cut strand", tubes(line[None], 0.018), copper_strands(rng), Label.GROUND)


_ADD = {
    "screw": _screw,
    "wire": _wire,
    "tweezers": _tweezers,
    "crumb": _crumb,
    "strand": _strand,
}
