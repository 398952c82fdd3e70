"""The phone: linear radiance to the picture that a phone would save.

`plan_phone` draws the settings and thereby the photo's fate, `develop` applies them, `encode`
writes the file. Everything comes from the generator that is passed.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from . import phone_finish as finish, phone_lens as lens
from .grounds import Look
from .lights_room import blackbody
from .phone_plan import USABLE_CLIPPED, Fate, PhonePlan, blur_px, plan_phone

__all__ = ["Fate", "PhonePlan", "blur_px", "develop", "encode", "plan_phone"]

Image = NDArray[np.float32]
GREY = 0.18  # linear level that metering aims at in the middle
HIGHLIGHT = 0.75  # ... and for the brightest twentieth
BLOWN_LEVEL = 250  # 8-bit value at which a channel counts as clipped
_LUMA = np.array([0.2126, 0.7152, 0.0722], np.float32)


def _joint_or_middle(shape: tuple[int, int], joint: NDArray[np.bool_] | None) -> NDArray[np.bool_]:
    if joint is not None and joint.any():
        return joint
    h, w = shape
    y, x = np.linspace(-1, 1, h)[:, None], np.linspace(-1, 1, w)[None]
    return np.hypot(x, y) < 0.35


def _exposure(image: Image, plan: PhonePlan, on_joint: NDArray[np.bool_]) -> tuple[float, float]:
    """Gain, and by how many EV the joint ends up away from GREY in the geometric mean."""
    luma = np.maximum(image[::4, ::4] @ _LUMA, 1e-6)
    h, w = luma.shape
    y, x = np.linspace(-1, 1, h)[:, None], np.linspace(-1, 1, w)[None]
    weight = np.exp(-((x * x + y * y) / 0.25)) if plan.metering == "centre" else np.ones_like(luma)
    # phones serve the highlights as well as the middle: paper comes out white, a mat black
    logmean = float(np.exp((np.log(luma) * weight).sum() / weight.sum()))
    bright = float(np.quantile(luma[weight > 0.3], 0.95))
    gain = 2.0**plan.error_ev * (GREY / logmean) ** 0.4 * (HIGHLIGHT / bright) ** 0.6
    joint = np.maximum((image @ _LUMA)[on_joint], 1e-6)
    median = float(np.median(joint))
    if plan.joint_level is not None:
        gain = plan.joint_level / median
    elif plan.fate == "usable":  # touch to focus meters there: the joint is neither lost nor blown
        top = float(np.quantile(joint, 1 - 0.6 * USABLE_CLIPPED))
        gain = min(max(gain, 0.045 / median), 1.1 / top)
    return gain, float(np.log2(max(gain * float(np.exp(np.log(joint).mean())), 1e-9) / GREY))


_KELVIN = np.geomspace(2200, 11000, 60)
_LOCUS = np.log(np.array([np.maximum(blackbody(k), 0.02) for k in _KELVIN]))


def _balance(image: Image, plan: PhonePlan) -> NDArray[np.float64]:
    """Gains that neutralise the light part of the way, with the plan's error.

    The light is taken for the black body whose colour is nearest to the scene's mean of high
    order ("shades of grey"), so that a coloured ground fools it only along warm and cool.
    """
    seen = np.clip(image[::4, ::4], 0, 2).reshape(-1, 3).astype(float)
    mean = np.log(np.maximum((seen**4).mean(0) ** 0.25, 1e-6))
    miss = ((_LOCUS - _LOCUS[:, 1:2]) - (mean - mean[1]))[:, [0, 2]]
    light = np.exp(_LOCUS[int((miss**2).sum(1).argmin())])
    gains = np.clip((light[1] / light) ** plan.grey_world, 0.35, 6.0)
    return gains * np.array([plan.balance[0], 1.0, plan.balance[1]])


def _zoomed(image: Image, zoom: float) -> Image:
    """The same view from fewer pixels: shrunk now, enlarged after processing."""
    if zoom <= 1.01:
        return image
    return cv2.resize(image, None, fx=1 / zoom, fy=1 / zoom, interpolation=cv2.INTER_AREA)


def develop(
    rng: np.random.Generator,
    radiance: Image,
    look: Look,
    plan: PhonePlan,
    *,
    depth: Image | None = None,
    joint_depth: float | None = None,
    focal_px: float | None = None,
    joint: NDArray[np.bool_] | None = None,
) -> tuple[NDArray[np.uint8], dict[str, float]]:
    """Develop linear radiance (h, w, 3) to an sRGB picture (h, w, 3) of the same size.

    depth (h, w) mm along the view axis, with joint_depth (mm) and focal_px: things before and
    behind the joint blur by their own distance; without them everything blurs like the joint.
    joint (h, w): its pixels, for exposure; else the middle of the frame. look only checks that
    the plan fits it: its settings were drawn with the plan.

    info: blur_px (standard deviation of the blur at the joint, photo px), exposure_ev (joint
    against grey), clipped_share and dark_share (of the joint), noise (standard deviation at 18 %
    grey, share of white, before denoising), gain, balance_r, balance_b.
    """
    del look
    h, w = radiance.shape[:2]
    on_joint = _joint_or_middle((h, w), joint)
    image = np.nan_to_num(np.asarray(radiance, np.float32), nan=0.0, posinf=1e4, neginf=0.0)
    image = np.minimum(np.maximum(image, 0), np.float32(1e4))
    image = lens.vignette(image, plan.vignette)
    gain, exposure_ev = _exposure(image, plan, on_joint)
    image = np.minimum(image * np.float32(gain), 40.0)
    small = _zoomed(image, plan.zoom)
    if depth is not None and joint_depth and focal_px:
        coc = lens.circle_of_confusion(
            _zoomed(depth, plan.zoom), joint_depth, plan, focal_px / plan.zoom
        )
        small = lens.defocus(small, coc, plan.blades)
    else:
        small = lens.defocus(
            small, np.full(small.shape[:2], plan.defocus_px, np.float32), plan.blades
        )
    small = lens.shake(small, plan.motion_px, plan.motion_deg)
    if plan.psf_px > 0.25:
        small = cv2.GaussianBlur(small, (0, 0), plan.psf_px)
    small = lens.bloom(lens.fringe(small, plan.aberration), plan.bloom)
    gains = _balance(small, plan)
    # the balance acts before clipping at white, so that highlights clip to white, not to a tint
    linear = finish.sensor(rng, small * gains.astype(np.float32), gains, plan)
    linear = finish.local_tone(
        finish.denoise(linear, plan), plan.local if plan.joint_level is None else 0.0
    )
    shown = finish.sharpen(finish.tone(linear, plan), plan)
    if shown.shape[:2] != (h, w):
        shown = np.clip(cv2.resize(shown, (w, h), interpolation=cv2.INTER_CUBIC), 0, 1)
    rgb = finish.smooth((shown * 255 + 0.5).astype(np.uint8), plan.smooth)
    pixels = rgb[on_joint]
    electrons = GREY * plan.full_well
    info = {
        "blur_px": blur_px(plan),
        "exposure_ev": exposure_ev,
        "clipped_share": float((pixels >= BLOWN_LEVEL).all(1).mean()),
        "dark_share": float((pixels <= 12).all(1).mean()),
        "noise": float(np.sqrt(electrons + plan.read_noise**2) / plan.full_well),
        "gain": gain,
        "balance_r": float(gains[0]),
        "balance_b": float(gains[2]),
    }
    return rgb, info


def encode(rng: np.random.Generator, rgb: NDArray[np.uint8], plan: PhonePlan) -> bytes:
    """JPEG file; now and then saved twice, as messengers do."""
    if rng.random() < 0.15:
        first = finish.jpeg(rgb, int(rng.integers(60, 95)), plan.subsampling)
        again = cv2.imdecode(np.frombuffer(first, np.uint8), cv2.IMREAD_COLOR)
        rgb = np.ascontiguousarray(again[..., ::-1])
    return finish.jpeg(rgb, plan.quality, plan.subsampling)
