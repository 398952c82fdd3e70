"""What joints lie on: eight kinds of bench. Colours and patterns are ours, no source."""

from __future__ import annotations

from collections.abc import Callable

from .blender import Material
from .fields import Rng
from .nodes import Colour, Nodes, Value, opaque, times

WOODS: tuple[tuple[Colour, Colour], ...] = (
    ((0.45, 0.27, 0.13), (0.22, 0.11, 0.045)),
    ((0.62, 0.45, 0.27), (0.42, 0.27, 0.14)),
    ((0.20, 0.10, 0.05), (0.08, 0.04, 0.02)),
)
MATS: tuple[Colour, ...] = ((0.015, 0.11, 0.075), (0.02, 0.055, 0.13), (0.03, 0.03, 0.032))
SILICONES: tuple[Colour, ...] = (
    (0.03, 0.16, 0.42),
    (0.02, 0.10, 0.25),
    (0.25, 0.26, 0.28),
    (0.05, 0.30, 0.33),
)
CLOTHS: tuple[Colour, ...] = (
    (0.45, 0.44, 0.42),
    (0.04, 0.05, 0.10),
    (0.30, 0.07, 0.06),
    (0.02, 0.02, 0.02),
)


def ground(rng: Rng, kind: str) -> Material:
    """The material of a bench; kind: one of `plan.BENCHES`."""
    nodes = Nodes("ground")
    _KINDS[kind](rng, nodes, nodes.place())
    return nodes.material


def _lines(nodes: Nodes, place: Value, apart: float, wide: float, axis: int) -> Value:
    """1 on ruled lines, else 0; axis: 0 for lines along y, 1 for lines along x."""
    across = nodes.add("SeparateXYZ", {0: place}).outputs[axis]
    part = nodes.math("FRACT", nodes.math("DIVIDE", across, apart))
    off = nodes.math("ABSOLUTE", nodes.math("SUBTRACT", part, 0.5))
    return nodes.math("LESS_THAN", off, wide / apart / 2)


def _wood(rng: Rng, nodes: Nodes, place: Value) -> None:
    stretched = nodes.scaled(place, (0.02, 0.35, 0.35), (0, 0, 0.2))
    grain = nodes.noise(1.0, 5, 0.6, stretched, 0.6)
    bright, dark = WOODS[rng.choice([0, 1, 2])]
    colour = nodes.mix(nodes.spread(grain, 0.3, 0.7), opaque(bright), opaque(dark))
    rough = rng.uniform(0.35, 0.7)
    nodes.surface(Base_Color=colour, Roughness=rough, Normal=nodes.bump(grain, 0.2, 0.3))


def _paper(rng: Rng, nodes: Nodes, place: Value) -> None:
    colour = nodes.mix(nodes.noise(0.3, 3), (0.80, 0.80, 0.78, 1), (0.72, 0.71, 0.69, 1))
    ruling = rng.integers(0, 3)  # none, squares or lines
    if ruling >= 1:
        ruled = _lines(nodes, place, 5.0 if ruling == 1 else 8.0, 0.25, 1)
        if ruling == 1:
            ruled = nodes.math("MAXIMUM", ruled, _lines(nodes, place, 5.0, 0.25, 0))
        colour = nodes.mix(nodes.math("MULTIPLY", ruled, 0.6), colour, (0.25, 0.42, 0.66, 1))
    fibre = nodes.bump(nodes.noise(6.0, 5), 0.15, 0.1)
    nodes.surface(Base_Color=colour, Roughness=0.8, Normal=fibre)


def _cutting_mat(rng: Rng, nodes: Nodes, place: Value) -> None:
    base = MATS[rng.integers(0, 3)]
    fine, coarse = (
        nodes.math("MAXIMUM", *(_lines(nodes, place, apart, wide, axis) for axis in (0, 1)))
        for apart, wide in ((10.0, 0.35), (50.0, 0.7))
    )
    ruled = nodes.math("MAXIMUM", fine, nodes.math("MULTIPLY", coarse, 1.0))
    stretched = nodes.scaled(place, (0.02, 1.2, 1), (0, 0, 0.7))
    scratches = nodes.spread(nodes.noise(1.0, 3, place=stretched), 0.66, 0.7)
    ruled = nodes.math("MULTIPLY", ruled, 0.7)
    colour = nodes.mix(ruled, opaque(base), (0.55, 0.55, 0.3, 1))
    colour = nodes.mix(nodes.math("MULTIPLY", scratches, 0.3), colour, (0.4, 0.45, 0.42, 1))
    normal = nodes.bump(nodes.noise(9.0, 4), 0.25, 0.08)
    nodes.surface(Base_Color=colour, Roughness=0.55, Normal=normal)


def _silicone(rng: Rng, nodes: Nodes, place: Value) -> None:
    base = SILICONES[rng.integers(0, 4)]
    apart = rng.uniform(4, 14)
    across = nodes.add("SeparateXYZ", {0: place}).outputs[1]
    part = nodes.math("FRACT", nodes.math("DIVIDE", across, apart))
    off = nodes.math("ABSOLUTE", nodes.math("SUBTRACT", part, 0.5))
    ribs = nodes.spread(off, 0.05, 0.12)
    dirt = nodes.math("MULTIPLY", nodes.spread(nodes.noise(0.25, 6), 0.5, 0.75), 0.35)
    colour = nodes.mix(dirt, opaque(base), opaque(times(base, 0.4, 0.02)))
    normal = nodes.bump(ribs, 0.8, 0.6, nodes.bump(nodes.noise(5.0, 3), 0.1, 0.1))
    nodes.surface(Base_Color=colour, Roughness=0.5, Normal=normal)


def _cloth(rng: Rng, nodes: Nodes, place: Value) -> None:
    base = CLOTHS[rng.integers(0, 4)]
    place = nodes.add("SeparateXYZ", {0: place})
    threads = rng.uniform(5, 9)  # rad/mm
    ways = [nodes.math("MULTIPLY", place.outputs[axis], threads) for axis in (0, 1)]
    waves = []
    for way, scale in zip(ways, (0.6, 0.5), strict=True):
        uneven = nodes.math("MULTIPLY", nodes.noise(scale, 3), 4.0)
        waves.append(nodes.math("SINE", nodes.math("ADD", way, uneven)))
    weave = nodes.math("MULTIPLY", *waves)
    colour = nodes.mix(nodes.spread(weave, -1, 1), opaque(times(base, 0.45)), opaque(base))
    normal = nodes.bump(weave, 0.8, 0.25)
    nodes.surface(Base_Color=colour, Roughness=0.95, Normal=normal, Sheen_Weight=0.3)


def _metal(_: Rng, nodes: Nodes, place: Value) -> None:
    brushed = nodes.noise(1.0, 5, place=nodes.scaled(place, (0.08, 6.0, 1)))
    colour = nodes.mix(brushed, (0.48, 0.48, 0.47, 1), (0.33, 0.33, 0.33, 1))
    rough = nodes.math("ADD", nodes.math("MULTIPLY", brushed, 0.3), 0.22)
    normal = nodes.bump(brushed, 0.2, 0.05)
    nodes.surface(Base_Color=colour, Metallic=1.0, Roughness=rough, Normal=normal)


def _cardboard(_: Rng, nodes: Nodes, place: Value) -> None:
    stretched = nodes.scaled(place, (0.03, 0.25, 1))
    colour = nodes.mix(nodes.noise(3.0, 4, 0.7), (0.47, 0.31, 0.17, 1), (0.36, 0.22, 0.11, 1))
    normal = nodes.bump(nodes.noise(1.0, 5, place=stretched), 0.35, 0.5)
    nodes.surface(Base_Color=colour, Roughness=0.85, Normal=normal)


def _black(rng: Rng, nodes: Nodes, place: Value) -> None:
    """Imitation leather."""
    inputs: dict[int | str, Value] = {"Vector": place, "Scale": rng.uniform(1.0, 2.5)}
    cells = nodes.add("TexVoronoi", inputs).outputs[0]
    fine = nodes.bump(nodes.noise(4.0, 5), 0.2, 0.1)
    normal = nodes.bump(cells, 0.5, 0.25, fine)
    nodes.surface(Base_Color=(0.018, 0.018, 0.02, 1), Roughness=0.45, Normal=normal)


_KINDS: dict[str, Callable[[Rng, Nodes, Value], None]] = {
    "wood": _wood,
    "paper": _paper,
    "cutmat": _cutting_mat,
    "silicone": _silicone,
    "cloth": _cloth,
    "metal": _metal,
    "cardboard": _cardboard,
    "black": _black,
}
