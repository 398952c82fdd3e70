"""Sensor and processing: noise, mosaic, denoising, tone, sharpening, file."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from .phone_plan import PhonePlan

Image = NDArray[np.float32]
WHITE = 4095.0
_LUMA = np.array([0.2126, 0.7152, 0.0722], np.float32)
_DEMOSAIC = {
    "bilinear": cv2.COLOR_BayerBG2RGB,
    "edge": cv2.COLOR_BayerBG2RGB_EA,
    "gradient": cv2.COLOR_BayerBG2RGB_VNG,
}


def expose(image: Image, noise: Image, plan: PhonePlan) -> Image:
    """Clip at white; add shot and read noise. `noise` is unit normal, of its shape."""
    electrons = np.clip(image, 0, 1) * plan.full_well
    return np.clip(
        (electrons + noise * np.sqrt(electrons + plan.read_noise**2)) / plan.full_well, 0, 1
    )


def sensor(
    rng: np.random.Generator, image: Image, gains: NDArray[np.float64], plan: PhonePlan
) -> Image:
    """Radiance (1 is white) to balanced linear RGB; `gains` are the white balance's."""
    g = np.asarray(gains, np.float32)
    if not plan.mosaic:
        raw = image / g
        return np.clip(
            expose(raw, rng.standard_normal(raw.shape, dtype=np.float32), plan) * g, 0, 1
        )
    h, w = (k - k % 2 for k in image.shape[:2])
    mosaic = np.empty((h, w), np.float32)
    for y, x, c in ((0, 0, 0), (0, 1, 1), (1, 0, 1), (1, 1, 2)):
        mosaic[y::2, x::2] = image[y:h:2, x:w:2, c] / g[c]
    mosaic = expose(mosaic, rng.standard_normal(mosaic.shape, dtype=np.float32), plan)
    for y, x, c in ((0, 0, 0), (0, 1, 1), (1, 0, 1), (1, 1, 2)):
        mosaic[y::2, x::2] *= g[c]
    # the square root spends the few levels of an 8-bit method where the eye sees them
    if plan.demosaic == "gradient":
        coded = (np.sqrt(np.clip(mosaic, 0, 1)) * 255 + 0.5).astype(np.uint8)
        rgb = (cv2.cvtColor(coded, _DEMOSAIC[plan.demosaic]).astype(np.float32) / 255) ** 2
    else:
        coded = (np.clip(mosaic, 0, 1) * WHITE + 0.5).astype(np.uint16)
        rgb = cv2.cvtColor(coded, _DEMOSAIC[plan.demosaic]).astype(np.float32) / WHITE
    if rgb.shape != image.shape:
        rgb = cv2.copyMakeBorder(
            rgb, 0, image.shape[0] - h, 0, image.shape[1] - w, cv2.BORDER_REPLICATE
        )
    return rgb


def denoise(image: Image, plan: PhonePlan) -> Image:
    """Smear noise away, colour more than lightness, as phones do. Works on square-root values."""
    if plan.denoise < 0.05:
        return image
    root = np.sqrt(np.clip(image, 0, 1))
    ycc = cv2.cvtColor(root, cv2.COLOR_RGB2YCrCb)
    k = 1.0 + 4 * plan.denoise
    chroma = cv2.GaussianBlur(ycc[..., 1:], (0, 0), k)
    y = np.ascontiguousarray(ycc[..., 0])
    if plan.smear:
        coded = cv2.medianBlur((y * 255 + 0.5).astype(np.uint8), 3).astype(np.float32) / 255
        y = y + plan.denoise * (coded - y)
    else:
        flat = cv2.bilateralFilter(y, 5, 0.02 + 0.06 * plan.denoise, 1.6)
        y = y + np.float32(0.9 * plan.denoise) * (flat - y)
    ycc = np.dstack([y, chroma])
    return np.clip(cv2.cvtColor(ycc, cv2.COLOR_YCrCb2RGB), 0, 1) ** 2


def local_tone(image: Image, amount: float) -> Image:
    """Lift dark areas and hold bright ones, by a blurred copy of the lightness."""
    if amount < 0.05:
        return image
    small = cv2.resize(image, None, fx=0.125, fy=0.125, interpolation=cv2.INTER_AREA)
    luma = np.log2(small @ _LUMA + 0.01)
    base = cv2.GaussianBlur(luma, (0, 0), max(small.shape[:2]) * 0.06)
    base = cv2.resize(base, image.shape[1::-1], interpolation=cv2.INTER_LINEAR)
    gain = np.exp2(np.clip(amount * 0.55 * (np.log2(0.18) - base), -1.2, 1.6))
    lifted = image * gain[..., None].astype(np.float32)
    return (
        np.where(lifted > 0.8, 0.8 + 0.2 * np.tanh((lifted - 0.8) / 0.2), lifted)
        if amount > 0.5
        else lifted
    )


def srgb(linear: Image) -> Image:
    """IEC 61966-2-1 encoding."""
    x = np.clip(linear, 0, 1)
    return np.where(
        x <= 0.0031308, 12.92 * x, 1.055 * np.power(x, np.float32(1 / 2.4)) - 0.055
    ).astype(np.float32)


def _curves(x: Image, plan: PhonePlan) -> Image:
    """Tone curve on encoded values 0..1."""
    c = plan.contrast
    if plan.curve == "s":
        return x + c * 0.55 * (x * x * (3 - 2 * x) - x)
    if plan.curve == "filmic":
        shoulder = (1 - np.exp(-2.2 * x)) / (1 - np.exp(-2.2))
        return x + c * 0.4 * (shoulder**1.15 - x)
    if plan.curve == "lifted":
        return x + c * (0.05 * (1 - x) + 0.25 * np.sin(np.pi * x) * 0.4)
    return np.power(x, np.float32(1.0 + 0.25 * (c - 0.5)))


def tone(image: Image, plan: PhonePlan) -> Image:
    """Linear 0..1 to encoded 0..1, through a table: curve, then saturation."""
    table = np.clip(_curves(srgb(np.linspace(0, 1, 4096, dtype=np.float32)), plan), 0, 1)
    x = table[(np.clip(image, 0, 1) * 4095 + 0.5).astype(np.uint16)]
    grey = (x @ _LUMA)[..., None]
    return np.clip(grey + np.float32(plan.saturation) * (x - grey), 0, 1)


def sharpen(image: Image, plan: PhonePlan) -> Image:
    """Unsharp mask with its halos, on encoded values."""
    if plan.sharpen < 0.05:
        return image
    return np.clip(
        image
        + np.float32(plan.sharpen) * (image - cv2.GaussianBlur(image, (0, 0), plan.sharpen_px)),
        0,
        1,
    )


def smooth(rgb: NDArray[np.uint8], amount: float) -> NDArray[np.uint8]:
    """Loss of faint texture, as strong video-like compression has."""
    if amount < 0.05:
        return rgb
    return cv2.bilateralFilter(rgb, 5, 4 + 14 * amount, 2.0)


_SUBSAMPLING = {
    "444": cv2.IMWRITE_JPEG_SAMPLING_FACTOR_444,
    "422": cv2.IMWRITE_JPEG_SAMPLING_FACTOR_422,
    "420": cv2.IMWRITE_JPEG_SAMPLING_FACTOR_420,
}


def jpeg(rgb: NDArray[np.uint8], quality: int, subsampling: str) -> bytes:
    """JPEG file of an sRGB picture."""
    options = [
        cv2.IMWRITE_JPEG_QUALITY,
        quality,
        cv2.IMWRITE_JPEG_SAMPLING_FACTOR,
        _SUBSAMPLING[subsampling],
    ]
    ok, data = cv2.imencode(".jpg", np.ascontiguousarray(rgb[..., ::-1]), options)
    if not ok:
        message = "the picture could not be encoded as JPEG"
        raise ValueError(message)
    return data.tobytes()
