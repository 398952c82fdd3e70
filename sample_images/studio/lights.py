"""What lights the bench: lamps, windows, the phone's flash, the room; and the phone's own shadow.

Every lamp is a rectangle whose picture (round, barred, ringed) gives it its shape, and every scene
has one panorama: so the renderer compiles one kernel for all scenes. A lamp shines to one side and
its back is black, so none may stand in the camera's view; `in_view` decides that.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from .grounds import Look
from .lights_room import blackbody, face, room
from .props_shapes import across, unit

Rng = np.random.Generator
VIEW_HALF_DEG = 48.0  # wider than half the diagonal of any phone's main camera
PHONE_MM = (75.0, 150.0)


@dataclass(frozen=True)
class Lamp:
    """Rectangle of half sides (u, v) mm about `centre`; shines along u x v, which has unit length.

    radiance: (h, w, 3) linear picture of its face, or None for a black body that only blocks.
    """

    name: str
    centre: NDArray[np.float64]
    u: NDArray[np.float64]
    v: NDArray[np.float64]
    radiance: NDArray[np.float32] | None

    def corners(self, n: int = 2) -> NDArray[np.float64]:
        """Grid of n x n points over the rectangle, (n * n, 3)."""
        k = np.linspace(-1, 1, n)
        a, b = np.meshgrid(k, k)
        return self.centre + a.reshape(-1, 1) * self.u + b.reshape(-1, 1) * self.v

    def matrix(self) -> NDArray[np.float64]:
        """(4, 4), from the square -1..1 in x and y, facing +z."""
        m = np.eye(4)
        m[:3, :3] = np.column_stack([self.u, self.v, unit(np.cross(self.u, self.v))])
        m[:3, 3] = self.centre
        return m


def in_view(
    lamp: Lamp, camera: ArrayLike, target: ArrayLike, half_deg: float = VIEW_HALF_DEG
) -> bool:
    """Whether any of the lamp lies in the camera's cone of view, before or behind the target.

    The cone's apex is the camera. A rectangle meets it if a point of a fine grid on it does; the
    cone is widened by half a grid step as seen from the camera.
    """
    eye = np.asarray(camera, float)
    w = unit(np.asarray(target, float) - eye)
    n = 17
    ray = lamp.corners(n) - eye
    far = np.linalg.norm(ray, axis=1)
    step = np.hypot(np.linalg.norm(lamp.u), np.linalg.norm(lamp.v)) / (n - 1)
    slack = np.arcsin(np.clip(step / np.maximum(far, 1e-9), 0, 1))
    angle = np.arccos(np.clip(ray @ w / np.maximum(far, 1e-9), -1, 1))
    return bool((angle < np.radians(half_deg) + np.minimum(slack, 0.35)).any())


def shadowed(lamp: Lamp, phone: Lamp, target: ArrayLike) -> float:
    """Share of the lamp that the phone hides from the target."""
    p = np.asarray(target, float)
    ray = lamp.corners(7) - p
    n = unit(np.cross(phone.u, phone.v))
    along = ray @ n
    k = ((phone.centre - p) @ n) / np.where(np.abs(along) < 1e-9, 1e-9, along)
    hit = p + ray * k[:, None] - phone.centre
    a, b = hit @ phone.u / (phone.u @ phone.u), hit @ phone.v / (phone.v @ phone.v)
    return float(((k > 0) & (k < 1) & (np.abs(a) < 1) & (np.abs(b) < 1)).mean())


@dataclass(frozen=True)
class Style:
    """A sort of lamp: ranges of half side and distance (mm), elevation (deg), kelvin."""

    face: str
    half_u: tuple[float, float]
    aspect: tuple[float, float]
    distance: tuple[float, float]
    elevation: tuple[float, float]
    kelvin: tuple[float, float]


TRAIN = {
    "overhead": Style("disc", (12, 60), (1, 1), (350, 1100), (50, 88), (2600, 6500)),
    "bulb": Style("bulb", (15, 40), (1, 1), (300, 1200), (30, 85), (2500, 4500)),
    "desk-lamp": Style("disc", (30, 80), (1, 1), (200, 500), (25, 75), (2700, 6500)),
    "window": Style("window", (300, 900), (0.6, 1.5), (900, 2500), (10, 45), (5000, 9000)),
    "panel": Style("panel", (100, 350), (0.5, 1.5), (500, 1500), (35, 85), (3500, 6500)),
    "tube": Style("panel", (300, 700), (0.02, 0.06), (600, 1800), (40, 85), (3800, 6500)),
    "ring": Style("ring", (60, 120), (1, 1), (200, 500), (50, 88), (4000, 6500)),
}
TEST = {
    "twin-bars": Style("bars", (120, 350), (0.5, 0.9), (350, 1100), (35, 85), (3200, 6800)),
    "blinds": Style("blinds", (300, 900), (0.6, 1.5), (900, 2500), (12, 45), (5000, 9000)),
    "leds": Style("leds", (20, 90), (0.6, 1.2), (250, 800), (35, 85), (4200, 8500)),
    "spot": Style("bulb", (8, 25), (1, 1), (250, 900), (40, 85), (2500, 5500)),
    "soft-box": Style("panel", (150, 400), (0.7, 1.3), (400, 1200), (30, 80), (4500, 6500)),
}


def phone_body(rng: Rng, camera: ArrayLike, target: ArrayLike) -> Lamp:
    """The phone as a black rectangle just behind the lens: mirrored in metal, never in view."""
    eye = np.asarray(camera, float)
    w = unit(np.asarray(target, float) - eye)
    a, b = across(w)
    roll = rng.uniform(0, 2 * np.pi)
    u, v = a * np.cos(roll) + b * np.sin(roll), -a * np.sin(roll) + b * np.cos(roll)
    # the lens sits near one corner
    corner = u * PHONE_MM[0] * rng.uniform(0.1, 0.4) + v * PHONE_MM[1] * rng.uniform(0.3, 0.42)
    size = rng.uniform(0.9, 1.1)
    return Lamp(
        "phone",
        eye - 2.0 * w + corner * rng.choice([-1, 1]),
        u * PHONE_MM[0] / 2 * size,
        v * PHONE_MM[1] / 2 * size,
        None,
    )


def _fit(lamp: Lamp, target: NDArray[np.float64], irradiance: float, kelvin: float) -> Lamp:
    """The lamp with the radiance that gives the target this irradiance (facing it)."""
    gap = lamp.centre - target
    far = float(np.linalg.norm(gap))
    facing = max(float(unit(np.cross(lamp.u, lamp.v)) @ -gap) / far, 0.05)
    area = 4 * float(np.linalg.norm(np.cross(lamp.u, lamp.v)))
    level = irradiance * far**2 / (area * facing)
    picture = lamp.radiance * (level * blackbody(kelvin))  # type: ignore[operator]
    return Lamp(lamp.name, lamp.centre, lamp.u, lamp.v, picture.astype(np.float32))


def _lamp(rng: Rng, name: str, style: Style, target: NDArray[np.float64]) -> Lamp:
    elevation, azimuth = np.radians(rng.uniform(*style.elevation)), rng.uniform(0, 2 * np.pi)
    d = np.array(
        [
            np.cos(elevation) * np.cos(azimuth),
            np.cos(elevation) * np.sin(azimuth),
            np.sin(elevation),
        ]
    )
    centre = target + d * rng.uniform(*style.distance)
    half = rng.uniform(*style.half_u)
    a, b = across(unit(-d + rng.normal(0, 0.12, 3)))
    roll = 0.0 if style.face in {"window", "blinds"} else rng.uniform(0, 2 * np.pi)
    u, v = a * np.cos(roll) + b * np.sin(roll), -a * np.sin(roll) + b * np.cos(roll)
    return Lamp(
        name, centre, u * half, v * half * rng.uniform(*style.aspect), face(rng, style.face)
    )


def plan_lights(
    rng: Rng, look: Look, camera: ArrayLike, target: ArrayLike, aim: ArrayLike | None = None
) -> tuple[tuple[Lamp, ...], NDArray[np.float32]]:
    """Lamps (the phone's body first) and the room's panorama, as numbers.

    The key lamp gives the target an irradiance of pi, the others and the room a share of that.
    aim: the point that the picture's middle shows, if that is not the target.
    """
    eye, p = np.asarray(camera, float), np.asarray(target, float)
    look_at = p if aim is None else np.asarray(aim, float)
    styles = TEST if look == "test" else TRAIN
    phone = phone_body(rng, eye, look_at)
    lamps: list[Lamp] = [phone]
    want = int(rng.choice([1, 2, 3, 4], p=[0.5, 0.28, 0.14, 0.08]))
    flash = rng.random() < 0.12
    for k in range(want - flash):
        for _ in range(60):
            name = str(rng.choice(list(styles)))
            lamp = _lamp(rng, name, styles[name], p)
            low = float(lamp.corners()[:, 2].min())
            if (
                low < 5
                or in_view(lamp, eye, look_at)
                or (k == 0 and shadowed(lamp, phone, p) > 0.4)
            ):
                continue
            share = 1.0 if k == 0 else float(np.exp(rng.uniform(np.log(0.05), 0)))
            lamps.append(_fit(lamp, p, share * np.pi, float(rng.uniform(*styles[name].kelvin))))
            break
    if flash or len(lamps) == 1:
        w = unit(look_at - eye)
        a, b = across(w)
        turn = rng.uniform(0, 2 * np.pi)
        side = a * np.cos(turn) + b * np.sin(turn)
        u, v = across(w)
        lamp = Lamp(
            "flash",
            eye + side * rng.uniform(9, 22) - w * 0.5,
            u * rng.uniform(1.5, 4),
            v * rng.uniform(1.5, 4),
            face(rng, "disc"),
        )
        lamps.append(_fit(lamp, p, np.pi, float(rng.uniform(4800, 6500))))
    azimuth = float(np.arctan2(eye[1] - p[1], eye[0] - p[0]) / (2 * np.pi)) % 1.0
    level = float(np.exp(rng.uniform(np.log(0.04), np.log(0.7))))
    return tuple(lamps), room(rng, look, azimuth) * np.float32(level)


def lights(
    rng: Rng, look: Look, camera_pos: ArrayLike, target: ArrayLike, aim: ArrayLike | None = None
) -> list[dict[str, Any]]:
    """Mitsuba dicts: one to four area lights, the phone's black body, and always one envmap.

    Needs a variant to be set. None of them can be seen directly by a camera at `camera_pos` that
    looks at `aim` (the target, if None), within VIEW_HALF_DEG.
    """
    import mitsuba as mi  # noqa: PLC0415 - an extra; the rest of this file does without it

    lamps, panorama = plan_lights(rng, look, camera_pos, target, aim)
    out: list[dict[str, Any]] = []
    for lamp in lamps:
        item: dict[str, Any] = {
            "type": "rectangle",
            "to_world": mi.ScalarTransform4f(lamp.matrix()),
        }
        if lamp.radiance is None:
            item["bsdf"] = {
                "type": "twosided",
                "bsdf": {"type": "diffuse", "reflectance": {"type": "rgb", "value": [0.015] * 3}},
            }
        else:
            picture = {"type": "bitmap", "bitmap": mi.Bitmap(lamp.radiance), "raw": True}
            item["emitter"] = {"type": "area", "radiance": picture}
        out.append(item)
    stand = mi.ScalarTransform4f().rotate([1, 0, 0], 90)  # the panorama's pole is y; ours is z
    out.append({"type": "envmap", "bitmap": mi.Bitmap(panorama), "to_world": stand})
    return out
