"""Parts, lights and a camera to radiance and to what each pixel is, with Mitsuba 3.

One kind of BSDF throughout, so that compiled kernels are shared between scenes.
"""

from __future__ import annotations

import os
from collections import defaultdict
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from .part import Part
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


def _bsdf(colour: dict[str, Any], roughness: float, metallic: float) -> dict[str, Any]:
    return {
        "type": "twosided",
        "inner": {
            "type": "principled", "base_color": colour, "roughness": float(roughness),
            "metallic": float(metallic), "specular": 0.5,
        },
    }  # fmt: skip


def _mesh(mi: Any, name: str, v: NDArray, f: NDArray, bsdf: Any, *, smooth: bool, uv: NDArray | None, colors: NDArray | None) -> Any:
    props = mi.Properties()
    props["mesh_bsdf"] = bsdf
    mesh = mi.Mesh(name, len(v), len(f), has_vertex_normals=smooth, has_vertex_texcoords=uv is not None, props=props)
    if colors is not None:
        mesh.add_attribute("vertex_color", 3, np.ascontiguousarray(colors, np.float32).ravel())
    params = mi.traverse(mesh)
    params["vertex_positions"] = np.ascontiguousarray(v, np.float32).ravel()
    params["faces"] = np.ascontiguousarray(f, np.uint32).ravel()
    if uv is not None:
        params["vertex_texcoords"] = np.ascontiguousarray(uv, np.float32).ravel()
    params.update()
    return mesh


def _groups(parts: list[Part]) -> list[list[Part]]:
    """Parts that may share a mesh: same finish, no texture."""
    plain: dict[tuple[float, float, bool], list[Part]] = defaultdict(list)
    single = []
    for p in parts:
        if p.material.texture is not None and p.uv is not None:
            single.append([p])
        else:
            plain[(round(p.material.roughness, 2), p.material.metallic, p.smooth)].append(p)
    return single + list(plain.values())


def render(parts: list[Part], lights: list[dict[str, Any]], camera: Camera, *, samples: int, seed: int, passes: int = 1) -> Buffers:
    """Trace the scene. The region buffers come from one ray through each pixel's centre."""
    mi = mitsuba()
    scene: dict[str, Any] = {"type": "scene", "integrator": {"type": "path", "max_depth": 6}}
    tables = []
    for k, group in enumerate(_groups(parts)):
        first = group[0]
        offset, vs, fs, cs = 0, [], [], []
        for p in group:
            vs.append(p.vertices)
            fs.append(p.faces + np.uint32(offset))
            offset += len(p.vertices)
            cs.append(p.colors if p.colors is not None else np.broadcast_to(np.float32(p.material.rgb), (len(p.vertices), 3)))
        textured = first.material.texture is not None and first.uv is not None
        if textured:
            colour = {"type": "bitmap", "bitmap": mi.Bitmap(np.ascontiguousarray(first.material.texture[::-1], np.float32)), "raw": True}
        else:
            colour = {"type": "mesh_attribute", "name": "vertex_color"}
        bsdf = mi.load_dict(_bsdf(colour, max(first.material.roughness, 0.03), first.material.metallic))
        scene[f"mesh{k}"] = _mesh(mi, f"mesh{k}", np.concatenate(vs), np.concatenate(fs), bsdf, smooth=first.smooth,
                                  uv=first.uv if textured else None, colors=None if textured else np.concatenate(cs))  # fmt: skip
        tables.append((
            np.concatenate([np.full(len(p.faces), p.label, np.uint8) for p in group]),
            np.concatenate([p.marks if p.marks is not None else np.zeros(len(p.faces), np.uint16) for p in group]),
            np.concatenate([np.full(len(p.faces), p.joint, np.uint8) for p in group]),
        ))  # fmt: skip
    for k, light in enumerate(lights):
        scene[f"light{k}"] = light
    target = camera.position + camera.forward
    to_world = mi.ScalarTransform4f().look_at(origin=list(map(float, camera.position)), target=list(map(float, target)), up=list(map(float, camera.up)))
    fov = 2 * np.degrees(np.arctan(camera.width / 2 / camera.focal_px))
    scene["sensor"] = {
        "type": "perspective", "fov": float(fov), "fov_axis": "x", "to_world": to_world, "near_clip": NEAR_MM, "far_clip": 5000.0,
        "film": {"type": "hdrfilm", "width": camera.width, "height": camera.height, "rfilter": {"type": "box"}, "pixel_format": "rgb", "component_format": "float32"},
        "sampler": {"type": "independent", "sample_count": samples},
    }  # fmt: skip
    loaded = mi.load_dict(scene, optimize=False)  # merged meshes would lose who they are
    radiance = np.zeros((camera.height, camera.width, 3), np.float32)
    for k in range(passes):
        radiance += np.array(mi.render(loaded, spp=samples, seed=seed * 64 + k))[..., :3].astype(np.float32) / passes
    return Buffers(np.nan_to_num(radiance), *_what(mi, loaded, len(tables), tables, camera), _sight(mi, loaded, camera))


def _sight(mi: Any, scene: Any, camera: Camera) -> Sight:
    """Exact visibility by a ray to each point, for things that pass between pixel centres."""

    def sees(points: NDArray[np.float64], slack_mm: float) -> NDArray[np.bool_]:
        away = points - camera.position
        far = np.linalg.norm(away, axis=1)
        d = (away / far[:, None]).astype(np.float32)
        eye = mi.Point3f(*[float(v) for v in camera.position])
        if mi.variant().startswith("scalar"):
            t = np.array([scene.ray_intersect_preliminary(mi.Ray3f(eye, mi.Vector3f(*map(float, k)))).t for k in d])
        else:
            t = np.array(scene.ray_intersect_preliminary(mi.Ray3f(eye, mi.Vector3f(np.ascontiguousarray(d.T)))).t)
        return (far > NEAR_MM) & (t > far - slack_mm)

    return sees


def _what(mi: Any, scene: Any, count: int, tables: list, camera: Camera) -> tuple:
    h, w = camera.height, camera.width
    names = {f"mesh{k}": k for k in range(count)}
    order = [names.get(s.id(), -1) for s in scene.shapes()]
    if mi.variant().startswith("scalar"):
        aov = mi.load_dict({"type": "aov", "aovs": "s:shape_index,p:prim_index,d:depth"})
        out = np.array(mi.render(scene, integrator=aov, spp=1, seed=1))
        shape, prim, t = out[..., -3].ravel(), out[..., -2].ravel().astype(np.int64), out[..., -1].ravel()
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
        ray = mi.Ray3f(mi.Point3f(*[float(v) for v in camera.position]), mi.Vector3f(np.ascontiguousarray(d.T, np.float32)))
        hit = scene.ray_intersect_preliminary(ray)
        ids = np.array(dr.reinterpret_array(mi.UInt32, hit.shape))
        prim = np.array(hit.prim_index).astype(np.int64)
        t = np.array(hit.t)
        lookup = {int(np.array(dr.reinterpret_array(mi.UInt32, mi.ShapePtr(s)))[0]): order[i] for i, s in enumerate(scene.shapes())}
        table = np.full(max(lookup) + 2, -1)
        for key, value in lookup.items():
            table[key] = value
        which = np.where(np.isfinite(t), table[np.clip(ids, 0, len(table) - 1)], -1)
        depth = np.where(np.isfinite(t), t, 1e4) * (d @ camera.forward)
    label, marks, joint = np.zeros(h * w, np.uint8), np.zeros(h * w, np.uint16), np.zeros(h * w, np.uint8)
    for k, (lab, mar, joi) in enumerate(tables):
        here = which == k
        label[here], marks[here], joint[here] = lab[prim[here]], mar[prim[here]], joi[prim[here]]
    return label.reshape(h, w), marks.reshape(h, w), joint.reshape(h, w), depth.reshape(h, w).astype(np.float32)
