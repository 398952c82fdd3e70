"""Parts, lights and a camera to radiance and to what each pixel is, with Mitsuba 3.

One kind of BSDF throughout, so that compiled kernels are shared between scenes.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from .part import Material, Part
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


@lru_cache(maxsize=1)
def mitsuba() -> Any:
    """Mitsuba with the best variant that runs here; STUDIO_VARIANT overrides."""
    import mitsuba as mi

    wanted = os.environ.get("STUDIO_VARIANT")
    for name in [wanted] if wanted else ["llvm_ad_rgb", "scalar_rgb"]:
        if name == "llvm_ad_rgb" and not wanted and "DRJIT_LIBLLVM_PATH" not in os.environ:
            continue
        mi.set_variant(name)
        mi.set_log_level(mi.LogLevel.Error)
        return mi
    return mi


def use_threads(count: int) -> None:
    """Limit the renderer to this many threads, for several jobs on one machine."""
    mitsuba()
    import drjit as dr

    dr.set_thread_count(count)


# A compiled kernel serves every scene with the same kinds of things in the same numbers, and to
# compile one takes seconds. So each scene fills the same slots: two meshes for all that has no
# texture, TEXTURED with one each, LAMPS lights; dummies out of sight fill what is left.
TEXTURED, LAMPS = 8, 6
_NOWHERE = np.array([0.0, 0.0, -300.0])


def _bsdf(colour: dict[str, Any], roughness: Any, metallic: Any) -> dict[str, Any]:
    return {
        "type": "twosided",
        "inner": {
            "type": "principled", "base_color": colour, "roughness": roughness,
            "metallic": metallic, "specular": 0.5,
        },
    }  # fmt: skip


def _mesh(mi: Any, name: str, group: list[Part], bsdf: Any, *, smooth: bool, textured: bool) -> Any:
    """One mesh of several parts; without texture, colour and finish go with the vertices."""
    vertices = np.concatenate([p.vertices for p in group])
    starts = np.cumsum([0, *(len(p.vertices) for p in group[:-1])])
    faces = np.concatenate([p.faces + np.uint32(k) for p, k in zip(group, starts, strict=True)])
    props = mi.Properties()
    props["mesh_bsdf"] = bsdf
    mesh = mi.Mesh(
        name,
        len(vertices),
        len(faces),
        has_vertex_normals=smooth,
        has_vertex_texcoords=textured,
        props=props,
    )
    if not textured:
        colors = [
            p.colors
            if p.colors is not None
            else np.broadcast_to(np.float32(p.material.rgb), (len(p.vertices), 3))
            for p in group
        ]
        rough = [
            np.full(len(p.vertices), max(p.material.roughness, 0.03), np.float32) for p in group
        ]
        metal = [np.full(len(p.vertices), p.material.metallic, np.float32) for p in group]
        for attribute, size, data in (
            ("vertex_color", 3, colors),
            ("vertex_rough", 1, rough),
            ("vertex_metal", 1, metal),
        ):
            mesh.add_attribute(
                attribute, size, np.ascontiguousarray(np.concatenate(data), np.float32).ravel()
            )
    params = mi.traverse(mesh)
    params["vertex_positions"] = np.ascontiguousarray(vertices, np.float32).ravel()
    params["faces"] = np.ascontiguousarray(faces, np.uint32).ravel()
    if textured:
        params["vertex_texcoords"] = np.ascontiguousarray(group[0].uv, np.float32).ravel()
    params.update()
    return mesh


def _dummy(texture: NDArray[np.float32] | None) -> Part:
    """A speck far under the bench."""
    corners = (_NOWHERE + 0.1 * np.array([[0, 0, 0], [1, 0, 0], [1, 1, 0], [0, 1, 0]])).astype(
        np.float32
    )
    uv = None if texture is None else corners[:, :2]
    return Part(
        "dummy",
        corners,
        np.array([[0, 1, 2], [0, 2, 3]], np.uint32),
        0,
        Material("dummy", "plastic", (0.5, 0.5, 0.5), 0.5, texture=texture),
        uv=uv,
    )


def _slots(parts: list[Part]) -> list[list[Part]]:
    """Smooth parts, flat parts, then one part a slot with a texture, TEXTURED in number."""
    pictured = [p for p in parts if p.material.texture is not None and p.uv is not None]
    pictured.sort(key=lambda p: -float(np.prod(np.ptp(p.vertices, axis=0)[:2])))  # the ground first
    kept = pictured[:TEXTURED]
    names = {id(p) for p in kept}
    plain = [p for p in parts if id(p) not in names]  # a surplus picture becomes its mean colour
    filler = _dummy(np.full((2, 2, 3), 0.5, np.float32))
    kept += [filler] * (TEXTURED - len(kept))
    smooth, flat = ([p for p in plain if p.smooth is s] + [_dummy(None)] for s in (True, False))
    return [smooth, flat, *([p] for p in kept)]


def _lamps(mi: Any, lights: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """The lights and dark dummies out of sight, hardly ever sampled, up to LAMPS."""
    emitters = [light for light in lights if "emitter" in light]
    dark = {
        "type": "rectangle", "to_world": mi.ScalarTransform4f().translate([0, 0, -400]),
        "emitter": {"type": "area", "radiance": {"type": "bitmap", "bitmap": mi.Bitmap(np.zeros((2, 2, 3), np.float32)), "raw": True}, "sampling_weight": 1e-4},
    }  # fmt: skip
    return lights + [dark] * (LAMPS - len(emitters))


def render(
    parts: list[Part],
    lights: list[dict[str, Any]],
    camera: Camera,
    *,
    samples: int,
    seed: int,
    passes: int = 1,
) -> Buffers:
    """Trace the scene. The region buffers come from one ray through each pixel's centre."""
    mi = mitsuba()
    scene: dict[str, Any] = {"type": "scene", "integrator": {"type": "path", "max_depth": 6}}
    tables = []
    for k, group in enumerate(_slots(parts)):
        first = group[0]
        textured = k >= 2
        if textured:
            picture = mi.Bitmap(np.ascontiguousarray(first.material.texture[::-1], np.float32))  # type: ignore[index]
            bsdf = _bsdf(
                {"type": "bitmap", "bitmap": picture, "raw": True},
                max(first.material.roughness, 0.03),
                first.material.metallic,
            )
        else:
            bsdf = _bsdf(
                *(
                    {"type": "mesh_attribute", "name": f"vertex_{name}"}
                    for name in ("color", "rough", "metal")
                )
            )
        scene[f"mesh{k}"] = _mesh(
            mi, f"mesh{k}", group, mi.load_dict(bsdf), smooth=first.smooth, textured=textured
        )
        tables.append((
            np.concatenate([np.full(len(p.faces), p.label, np.uint8) for p in group]),
            np.concatenate([p.marks if p.marks is not None else np.zeros(len(p.faces), np.uint16) for p in group]),
            np.concatenate([np.full(len(p.faces), p.joint, np.uint8) for p in group]),
        ))  # fmt: skip
    for k, light in enumerate(_lamps(mi, lights)):
        scene[f"light{k}"] = light
    target = camera.position + camera.forward
    to_world = mi.ScalarTransform4f().look_at(
        origin=list(map(float, camera.position)),
        target=list(map(float, target)),
        up=list(map(float, camera.up)),
    )
    fov = 2 * np.degrees(np.arctan(camera.width / 2 / camera.focal_px))
    scene["sensor"] = {
        "type": "perspective", "fov": float(fov), "fov_axis": "x", "to_world": to_world, "near_clip": NEAR_MM, "far_clip": 5000.0,
        "film": {"type": "hdrfilm", "width": camera.width, "height": camera.height, "rfilter": {"type": "box"}, "pixel_format": "rgb", "component_format": "float32"},
        "sampler": {"type": "independent", "sample_count": samples},
    }  # fmt: skip
    loaded = mi.load_dict(scene, optimize=False)  # merged meshes would lose who they are
    _as_data(mi, loaded)
    radiance = np.zeros((camera.height, camera.width, 3), np.float32)
    for k in range(passes):
        radiance += (
            np.array(mi.render(loaded, spp=samples, seed=seed * 64 + k))[..., :3].astype(np.float32)
            / passes
        )
    return Buffers(
        np.nan_to_num(radiance),
        *_what(mi, loaded, len(tables), tables, camera),
        _sight(mi, loaded, camera),
    )


def _as_data(mi: Any, scene: Any) -> None:
    """Hold numbers of lamps and finishes as data, not as constants of the compiled kernel."""
    if mi.variant().startswith("scalar"):
        return
    import drjit as dr

    params = mi.traverse(scene)
    for key in params.keys():  # noqa: SIM118 - not a dict
        if key.endswith(("to_world", "roughness.value", "metallic.value", "sampling_weight")):
            value = params[key]
            dr.make_opaque(value)
            params[key] = value
    params.update()


def _sight(mi: Any, scene: Any, camera: Camera) -> Sight:
    """Exact visibility by a ray to each point, for things that pass between pixel centres."""

    def sees(points: NDArray[np.float64], slack_mm: float) -> NDArray[np.bool_]:
        away = points - camera.position
        far = np.linalg.norm(away, axis=1)
        d = (away / far[:, None]).astype(np.float32)
        eye = mi.Point3f(*[float(v) for v in camera.position])
        if mi.variant().startswith("scalar"):
            t = np.array(
                [
                    scene.ray_intersect_preliminary(mi.Ray3f(eye, mi.Vector3f(*map(float, k)))).t
                    for k in d
                ]
            )
        else:
            t = np.array(
                scene.ray_intersect_preliminary(
                    mi.Ray3f(eye, mi.Vector3f(np.ascontiguousarray(d.T)))
                ).t
            )
        return (far > NEAR_MM) & (t > far - slack_mm)

    return sees


def _what(mi: Any, scene: Any, count: int, tables: list, camera: Camera) -> tuple:
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
        import drjit as dr

        y, x = np.mgrid[:h, :w]
        d = camera.rays(x.ravel().astype(float), y.ravel().astype(float))
        ray = mi.Ray3f(
            mi.Point3f(*[float(v) for v in camera.position]),
            mi.Vector3f(np.ascontiguousarray(d.T, np.float32)),
        )
        hit = scene.ray_intersect_preliminary(ray)
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
