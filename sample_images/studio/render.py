"""Parts, lights and a camera to radiance and to what each pixel is, with Mitsuba 3.

One kind of BSDF throughout, so that compiled kernels are shared between scenes.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from .buffers import NEAR_MM, Buffers, pixels, sight_of
from .denoise import guides, smooth
from .part import Part
from .slots import bsdf_of, lamps, mesh_of, slots
from .variant import Native, mitsuba
from .view import Camera


def render(
    parts: list[Part],
    lights: list[dict[str, Any]],
    camera: Camera,
    *,
    samples: int,
    seed: int,
    passes: int = 1,
) -> Buffers:
    """Trace the scene and take the renderer's grain out of its light.

    The region buffers come from one ray through each pixel's centre.
    """
    mi = mitsuba()
    scene: dict[str, Any] = {"type": "scene", "integrator": {"type": "path", "max_depth": 6}}
    tables = []
    for k, group in enumerate(slots(parts)):
        first = group[0]
        textured = k >= 2
        if textured:
            picture = mi.Bitmap(np.ascontiguousarray(first.material.texture[::-1], np.float32))  # type: ignore[index]
            bsdf = bsdf_of(
                {"type": "bitmap", "bitmap": picture, "raw": True},
                max(first.material.roughness, 0.03),
                first.material.metallic,
            )
        else:
            bsdf = bsdf_of(
                *(
                    {"type": "mesh_attribute", "name": f"vertex_{name}"}
                    for name in ("color", "rough", "metal")
                )
            )
        scene[f"mesh{k}"] = mesh_of(
            mi, f"mesh{k}", group, mi.load_dict(bsdf), smooth=first.smooth, textured=textured
        )
        tables.append(
            (
                np.concatenate([np.full(len(p.faces), p.label, np.uint8) for p in group]),
                np.concatenate(
                    [
                        p.marks if p.marks is not None else np.zeros(len(p.faces), np.uint16)
                        for p in group
                    ]
                ),
                np.concatenate([np.full(len(p.faces), p.joint, np.uint8) for p in group]),
            )
        )
    for k, light in enumerate(lamps(mi, lights)):
        scene[f"light{k}"] = light
    target = camera.position + camera.forward
    to_world = mi.ScalarTransform4f().look_at(
        origin=list(map(float, camera.position)),
        target=list(map(float, target)),
        up=list(map(float, camera.up)),
    )
    fov = 2 * np.degrees(np.arctan(camera.width / 2 / camera.focal_px))
    scene["sensor"] = {
        "type": "perspective",
        "fov": float(fov),
        "fov_axis": "x",
        "to_world": to_world,
        "near_clip": NEAR_MM,
        "far_clip": 5000.0,
        "film": {
            "type": "hdrfilm",
            "width": camera.width,
            "height": camera.height,
            "rfilter": {"type": "box"},
            "pixel_format": "rgb",
            "component_format": "float32",
        },
        "sampler": {"type": "independent", "sample_count": samples},
    }
    loaded = mi.load_dict(scene, optimize=False)  # merged meshes would lose who they are
    _as_data(mi, loaded)
    radiance = np.zeros((camera.height, camera.width, 3), np.float32)
    for k in range(passes):
        radiance += (
            np.array(mi.render(loaded, spp=samples, seed=seed * 64 + k))[..., :3].astype(np.float32)
            / passes
        )
    radiance = np.nan_to_num(radiance, posinf=0.0, neginf=0.0)
    radiance = smooth(radiance, *guides(mi, loaded, seed))
    return Buffers(
        radiance,
        *pixels(mi, loaded, len(tables), tables, camera),
        sight_of(mi, loaded, camera),
    )


def _as_data(mi: Native, scene: Native) -> None:
    """Hold numbers of lamps and finishes as data, not as constants of the compiled kernel."""
    if mi.variant().startswith("scalar"):
        return
    import drjit as dr  # noqa: PLC0415 - an extra

    params = mi.traverse(scene)
    for key in params.keys():  # noqa: SIM118 - not a dict
        if key.endswith(("to_world", "roughness.value", "metallic.value", "sampling_weight")):
            value = params[key]
            dr.make_opaque(value)
            params[key] = value
    params.update()
