"""One scene: joints, ground, clutter, lights, camera, phone; and the truth of it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from . import part as pt, phone, props
from .as_taken import as_taken
from .buffers import Buffers
from .cages import whole_cages
from .contact_truth import mark_dry
from .grounds import ground
from .lights import lights
from .part import Part
from .plain_sight import only_seen
from .render import render
from .request import Request
from .scene_truth import scene_truth
from .stage import camera_for, stage
from .variant import mitsuba
from .view import Camera

Rng = np.random.Generator
Array = NDArray[np.float64]


@dataclass(frozen=True)
class Scene:
    """A rendered scene: JPEG bytes, the maps, and the truth as in the README of sample_images."""

    jpeg: bytes
    label: NDArray[np.uint8]
    marks: NDArray[np.uint16]
    truth: dict[str, Any]


def compose(ask: Request) -> Scene:
    """Render one scene. Deterministic in the request, but for the renderer's own sampling."""
    rng = np.random.default_rng([ask.seed, 20])
    joints, parts, planted = ([], [], []) if ask.fate == "no-joint" else stage(rng, ask)
    camera = camera_for(rng, ask, joints)
    clear = [
        (
            (j.end + j.lip) / 2,
            1.2 * j.spec.d_mm + np.linalg.norm(j.end - j.lip) / 2 + j.spec.cup.depth,
        )
        for j in joints
    ]
    target = clear[0][0] if clear else np.zeros(3)
    bench = ground(rng, ask.look)  # type: ignore[arg-type]
    if ask.plain and bench[0].name == "ground-picture":  # demo pictures are synthetic throughout
        bench = ground(rng.spawn(1)[0], ask.look, "felt")  # type: ignore[arg-type]
    parts += bench
    if not joints and rng.random() < 0.75:  # something to mistake for a joint, in the middle
        kind = str(
            rng.choice(
                [
                    "wire-end",
                    "empty-connector",
                    "loose-contact",
                    "crossing-wire",
                    "board",
                    "solder-wire",
                    "screw",
                    "iron",
                    "pliers",
                    "tweezers",
                    "heat-shrink",
                    "ring-terminal",
                    "finger",
                    "nut",
                    "offcuts",
                    "stand",
                ]
            )
        )
        parts += [
            q for q in props.make(rng, kind, ask.look) if not props.blocks(q, [], camera.position)
        ]  # type: ignore[arg-type]
    count = (
        int(rng.integers(3, 14)) if not joints else int(rng.integers(0, 2)) if ask.plain else None
    )
    parts += props.clutter(rng, ask.look, clear or [(np.zeros(3), 0.5)], camera.position, count)  # type: ignore[arg-type]
    if ask.fate == "covered" and joints:
        j = joints[0]
        hidden = (j.end + 2 * j.lip + j.axis * j.spec.cup.depth) / 3
        parts += props.cover(
            rng,
            hidden,
            camera.position,
            float(max(1.3 * j.spec.d_mm, np.linalg.norm(j.end - j.lip))),
        )
    mitsuba()  # the lights need its variant set
    lamps = lights(rng, ask.look, camera.position, target)  # type: ignore[arg-type]
    buffers = whole_cages(traced(parts, lamps, camera, ask.samples, ask.seed), joints, camera)
    buffers = only_seen(mark_dry(buffers, joints, camera), joints, camera)
    fate = ask.fate if ask.fate in ("focus", "exposure") else "usable"
    plan = phone.plan_phone(rng, ask.look, fate, d_px=ask.d_px)  # type: ignore[arg-type]
    if ask.plain:  # a phone that does no great harm
        plan = replace(
            plan,
            quality=88,
            smear=False,
            smooth=0.0,
            full_well=max(plan.full_well, 4000.0),
            local=min(plan.local, 0.3),
            sharpen=min(plan.sharpen, 0.7),
        )
    focus = float(camera.project(target)[1])
    rgb, info = phone.develop(
        rng,
        buffers.radiance,
        ask.look,
        plan,
        depth=buffers.depth,
        joint_depth=focus,
        focal_px=camera.focal_px,
        joint=_metal(buffers),
    )  # type: ignore[arg-type]
    truth = scene_truth(ask, joints, planted, camera, buffers)
    truth["photo"] |= {k: v for k, v in info.items() if isinstance(v, (int, float, str))}
    jpeg = phone.encode(rng, rgb, plan)
    bgr = cv2.imdecode(np.frombuffer(jpeg, np.uint8), cv2.IMREAD_COLOR)
    marks, truth = as_taken(np.asarray(bgr[..., ::-1]), buffers.label, buffers.marks, truth)
    return Scene(jpeg, buffers.label, marks, truth)


def _metal(buffers: Buffers) -> NDArray[np.bool_] | None:
    """Pixels of the joints' conductor, solder and terminal: what the exposure must serve."""
    metal = (buffers.joint > 0) & np.isin(buffers.label, (pt.CONDUCTOR, pt.SOLDER, pt.TERMINAL))
    return metal if metal.sum() > 20 else None


def traced(
    parts: list[Part], lamps: list[dict[str, Any]], camera: Camera, samples: int, seed: int
) -> Buffers:
    """Render in passes small enough for the memory at hand."""
    per_pass = max(1, int(12e6 / (camera.width * camera.height)))
    return render(
        parts,
        lamps,
        camera,
        samples=min(samples, per_pass),
        seed=seed,
        passes=max(1, -(-samples // per_pass)),
    )
