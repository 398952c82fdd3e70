"""What each pixel of a traced scene is, and which points the camera sees."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from .variant import Native
from .view import Camera

NEAR_MM = 1.0  # the camera's near plane


# Points (n, 3) and a slack in mm to which of them (n,) the camera sees: nothing stands before
# them by more than the slack. The frame's edges do not matter.
Sight = Callable[[NDArray[np.float64], float], NDArray[np.bool_]]


def nothing_between(points: NDArray[np.float64], slack_mm: float) -> NDArray[np.bool_]:
    """The sight of an empty scene."""
    del slack_mm
    return np.ones(len(points), bool)


@dataclass(frozen=True)
class Buffers:
    """Per pixel: radiance (h, w, 3), label, marks, joint (0 none), depth along the axis (mm)."""

    radiance: NDArray[np.float32]
    label: NDArray[np.uint8]
    marks: NDArray[np.uint16]
    joint: NDArray[np.uint8]
    depth: NDArray[np.float32]
    sight: Sight = nothing_between


def sight_of(mi: Native, scene: Native, camera: Camera) -> Sight:
    """Exact visibility by a ray to each point, for things that pass between pixel centres."""

    def sees(points: NDArray[np.float64], slack_mm: float) -> NDArray[np.bool_]:
        away = points - camera.position
        far = np.linalg.norm(away, axis=1)
        d = (away / far[:, None]).astype(np.float32)
        if mi.variant().startswith("scalar"):
            eye = mi.Point3f(*[float(v) for v in camera.position])
            t = np.array(
                [
                    scene.ray_intersect_preliminary(mi.Ray3f(eye, mi.Vector3f(*map(float, k)))).t
                    for k in d
                ]
            )
        else:
            t = np.array(scene.ray_intersect_preliminary(_rays(mi, camera, d)).t)
        return (far > NEAR_MM) & (t > far - slack_mm)

    return sees


def _rays(mi: Native, camera: Camera, d: NDArray[Any]) -> Native:
    """Rays from the camera along d (n, 3).

    The eye and the count are data, not constants of a kernel: else every call compiles its own.
    """
    import drjit as dr  # noqa: PLC0415 - an extra

    eye = mi.Point3f(*[float(v) for v in camera.position])
    dr.make_opaque(eye)
    return mi.Ray3f(eye, mi.Vector3f(*(np.ascontiguousarray(k, np.float32) for k in d.T)))


def pixels(mi: Native, scene: Native, count: int, tables: list, camera: Camera) -> tuple:
    """Label, marks, joint and depth (mm) of each pixel, by a ray through its centre."""
    h, w = camera.height, camera.width
    names = {f"mesh{k}": k for k in range(count)}
    order = [names.get(s.id(), -1) for s in scene.shapes()]
    if mi.variant().startswith("scalar"):
        aov = mi.load_dict({"type": "aov", "aovs": "s:shape_index,p:prim_index,d:depth"})
        out = np.array(mi.render(scene, integrator=aov, spp=1, seed=1))
        shape, prim, t = (
            out[..., -3].ravel(),
            out[..., -2].ravel().astype(np.int64),
            out[..., -1].ravel(),
        )
        # the renderer counts shapes from 1; 0 is nothing
        which = np.array([-1, *order])[np.clip(np.rint(shape).astype(int), 0, len(order))]
        t = np.where(which < 0, 1e4, t)
        y, x = np.mgrid[:h, :w]
        # its rays start at the near plane, so that is where its depth counts from
        along = camera.rays(x.ravel().astype(float), y.ravel().astype(float)) @ camera.forward
        depth = t * along + np.where(which < 0, 0.0, NEAR_MM)
    else:
        import drjit as dr  # noqa: PLC0415 - an extra

        y, x = np.mgrid[:h, :w]
        d = camera.rays(x.ravel().astype(float), y.ravel().astype(float))
        hit = scene.ray_intersect_preliminary(_rays(mi, camera, d))
        dr.eval(hit)  # once, not for each of the fields below
        ids = np.array(dr.reinterpret_array(mi.UInt32, hit.shape))
        prim = np.array(hit.prim_index).astype(np.int64)
        t = np.array(hit.t)
        lookup = {
            int(np.array(dr.reinterpret_array(mi.UInt32, mi.ShapePtr(s)))[0]): order[i]
            for i, s in enumerate(scene.shapes())
        }
        table = np.full(max(lookup) + 2, -1)
        for key, value in lookup.items():
            table[key] = value
        which = np.where(np.isfinite(t), table[np.clip(ids, 0, len(table) - 1)], -1)
        depth = np.where(np.isfinite(t), t, 1e4) * (d @ camera.forward)
    label, marks, joint = (
        np.zeros(h * w, np.uint8),
        np.zeros(h * w, np.uint16),
        np.zeros(h * w, np.uint8),
    )
    for k, (lab, mar, joi) in enumerate(tables):
        here = which == k
        label[here], marks[here], joint[here] = lab[prim[here]], mar[prim[here]], joi[prim[here]]
    return (
        label.reshape(h, w),
        marks.reshape(h, w),
        joint.reshape(h, w),
        depth.reshape(h, w).astype(np.float32),
    )
