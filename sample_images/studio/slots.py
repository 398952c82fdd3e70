"""Parts and lights as the renderer takes them: the same kinds of things in the same numbers."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from .part import Material, Part
from .variant import Native

Finish = float | dict[str, Any]  # one for all, or a plugin that varies

# A compiled kernel serves every scene with the same kinds of things in the same numbers, and to
# compile one takes seconds. So each scene fills the same slots: two meshes for all that has no
# texture, TEXTURED with one each, LAMPS lights; dummies out of sight fill what is left.
TEXTURED, LAMPS = 8, 6
_NOWHERE = np.array([0.0, 0.0, -300.0])


def bsdf_of(colour: dict[str, Any], roughness: Finish, metallic: Finish) -> dict[str, Any]:
    """The one kind of surface, seen from both sides."""
    return {
        "type": "twosided",
        "inner": {
            "type": "principled", "base_color": colour, "roughness": roughness,
            "metallic": metallic, "specular": 0.5,
        },
    }  # fmt: skip


def mesh_of(
    mi: Native, name: str, group: list[Part], bsdf: Native, *, smooth: bool, textured: bool
) -> Native:
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


def _unwelded(part: Part) -> Part:
    """The same facets with corners of their own, so that they may be rendered as smooth."""
    if part.smooth:
        return part
    corner = part.faces.ravel()
    faces = np.arange(len(corner), dtype=np.uint32).reshape(-1, 3)
    uv = None if part.uv is None else part.uv[corner]
    return replace(part, vertices=part.vertices[corner], faces=faces, uv=uv, smooth=True)


def slots(parts: list[Part]) -> list[list[Part]]:
    """Smooth parts, flat parts, then one part a slot with a texture, TEXTURED in number."""
    pictured = [p for p in parts if p.material.texture is not None and p.uv is not None]
    pictured.sort(key=lambda p: -float(np.prod(np.ptp(p.vertices, axis=0)[:2])))  # the ground first
    kept = pictured[:TEXTURED]
    names = {id(p) for p in kept}
    plain = [p for p in parts if id(p) not in names]  # a surplus picture becomes its mean colour
    filler = _dummy(np.full((2, 2, 3), 0.5, np.float32))
    kept += [filler] * (TEXTURED - len(kept))
    smooth, flat = ([p for p in plain if p.smooth is s] + [_dummy(None)] for s in (True, False))
    return [smooth, flat, *([_unwelded(p)] for p in kept)]


def lamps(mi: Native, lights: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """The lights and dark dummies out of sight, hardly ever sampled, up to LAMPS."""
    emitters = [light for light in lights if "emitter" in light]
    dark = {
        "type": "rectangle",
        "to_world": mi.ScalarTransform4f().translate([0, 0, -400]),
        "emitter": {
            "type": "area",
            "radiance": {
                "type": "bitmap",
                "bitmap": mi.Bitmap(np.zeros((2, 2, 3), np.float32)),
                "raw": True,
            },
            "sampling_weight": 1e-4,
        },
    }
    return lights + [dark] * (LAMPS - len(emitters))
