"""One joint as meshes, with what the truth needs: its points, contact lines and strands."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from . import part as pt
from .materials import insulation
from .mesh import Array
from .part import Part, as_part
from .solder_parts import collar_part, solder_parts
from .solder_surfaces import ContactLine
from .spec import JointSpec
from .terminal import body, floor_disc, wall
from .wire_parts import StrandTruth, conductor_parts, insulation_parts, stray_parts


@dataclass(frozen=True)
class JointModel:
    """Parts and features of one joint, in the same coordinates."""

    spec: JointSpec
    parts: tuple[Part, ...]
    end: Array
    lip: Array
    toe: Array
    lines: tuple[ContactLine, ...]
    strands: tuple[StrandTruth, ...]
    spikes: tuple[Array, ...]  # (2, 3): base and tip
    fillet: Array | None  # (points, angles, 3)
    up: Array  # direction of the cup's opening
    axis: Array  # of the wire where it ends, toward the cup
    deep: Array  # of the cup, from its lip inward
    more_ends: tuple[Array, ...] = ()  # of other wires in the same cup

    def moved(self, m: NDArray[np.float64]) -> JointModel:
        """The model under a rigid motion (4, 4)."""

        def go(p: Array) -> Array:
            return p @ m[:3, :3].T + m[:3, 3]

        return replace(
            self,
            parts=tuple(p.moved(m) for p in self.parts),
            end=go(self.end), lip=go(self.lip), toe=go(self.toe),
            lines=tuple(replace(c, points=go(c.points)) for c in self.lines),
            more_ends=tuple(go(p) for p in self.more_ends),
            strands=tuple(replace(s, path=go(s.path)) for s in self.strands),
            spikes=tuple(go(s) for s in self.spikes),
            fillet=None if self.fillet is None else go(self.fillet),
            up=self.up @ m[:3, :3].T, axis=self.axis @ m[:3, :3].T,
            deep=self.deep @ m[:3, :3].T,
        )  # fmt: skip


def build(spec: JointSpec, rng: np.random.Generator, floor: float) -> JointModel:
    """Everything of one joint. `floor` is the lowest z of the wire's axis, in joint coordinates."""
    cy, cz = spec.offset
    wv, wf, inside = wall(spec.cup)
    back = floor_disc(spec.cup)
    metal = spec.metal
    parts = [
        as_part(
            "cup",
            (wv, wf),
            pt.TERMINAL,
            metal,
            marks=np.where(inside, pt.MOUTH | pt.SHORT, 0).astype(np.uint16),
        ),
        as_part(
            "cup floor",
            back,
            pt.TERMINAL,
            metal,
            marks=np.full(len(back[1]), pt.MOUTH | pt.SHORT, np.uint16),
        ),
        as_part("contact", body(spec.cup, rng), pt.TERMINAL, metal),
        *insulation_parts(spec, rng, floor),
        *conductor_parts(spec, rng),
    ]
    more_ends: tuple[Array, ...] = ()
    if spec.twin:
        apart = spec.d_mm * 0.98
        beside = replace(
            spec,
            offset=(cy + apart * (1 if rng.random() < 0.5 else -1), cz),
            strays=(),
            sleeve_mm=None,
            insulation=insulation(rng),
            birdcage=0.0,
        )
        # the second wire comes in at an angle, so that both bundles meet in the cup
        lean = np.eye(4)
        angle = np.arctan2(beside.offset[0] - cy, spec.gap_mm + 0.5 * spec.cup.depth) * 0.8
        lean[:2, :2] = [[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]]
        lean[:3, 3] = np.array([0.3 * spec.cup.depth, cy, 0]) - lean[:3, :3] @ np.array(
            [0.3 * spec.cup.depth, beside.offset[0], 0]
        )
        more_ends = (lean[:3, :3] @ np.array([-spec.gap_mm, *beside.offset]) + lean[:3, 3],)
        parts += [
            p.moved(lean)
            for p in insulation_parts(beside, rng, floor) + conductor_parts(beside, rng)
        ]
    strays, strand_truth = stray_parts(spec, rng)
    soldered, lines, fillet_grid, spikes = solder_parts(spec, rng)
    parts += strays + soldered
    collar = collar_part(spec, rng)
    if collar:
        parts.append(collar)
    tip = np.array([spec.seat * spec.cup.depth, cy, cz])
    model = JointModel(
        spec,
        tuple(parts),
        np.array([-spec.gap_mm, cy, cz]),
        np.zeros(3),
        tip,
        tuple(lines),
        tuple(strand_truth),
        tuple(spikes),
        fillet_grid,
        np.array([0.0, 0, 1]),
        np.array([1.0, 0, 0]),
        np.array([1.0, 0, 0]),
        more_ends,
    )
    return model if spec.lean == (0.0, 0.0) else _askew(model)


def _askew(model: JointModel) -> JointModel:
    """The wire comes in at an angle: all before the lip is sheared, smoothly from there."""

    def go(p: Array) -> Array:
        before = np.maximum(-p[..., 0], 0.0)
        reach = before**2 / (before + 0.5)
        moved = np.array(p, dtype=float)
        moved[..., 1] += model.spec.lean[0] * reach
        moved[..., 2] += model.spec.lean[1] * reach
        return moved

    end = go(model.end)
    axis = (
        model.lip - end
        if model.spec.gap_mm > 0.3 * model.spec.d_mm
        else np.array([1.0, *(-np.array(model.spec.lean))])
    )
    return replace(
        model,
        end=end,
        axis=axis / np.linalg.norm(axis),
        parts=tuple(
            p if p.label == pt.TERMINAL else replace(p, vertices=go(p.vertices).astype(np.float32))
            for p in model.parts
        ),
        lines=tuple(replace(c, points=go(c.points)) for c in model.lines),
        strands=tuple(replace(t, path=go(t.path)) for t in model.strands),
        spikes=tuple(go(k) for k in model.spikes),
        fillet=None if model.fillet is None else go(model.fillet),
        more_ends=tuple(go(e) for e in model.more_ends),
    )


__all__ = ["JointModel", "StrandTruth", "build"]
