"""Any decoded picture to sRGB: grey, palette, CMYK, 16 bit, transparent, with or without a profile.

Colour profiles are those of the International Color Consortium (ICC.1), applied by Pillow's lcms.
"""

from __future__ import annotations

import io

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageCms

_RELATIVE_COLORIMETRIC = ImageCms.Intent.RELATIVE_COLORIMETRIC
_PROFILE_SLACK = 2  # grey levels of 255 that a profile may differ from sRGB before it matters


def to_srgb(picture: Image.Image) -> NDArray[np.uint8]:
    """The pixels (H, W, 3) in sRGB, transparency laid on white, not yet turned."""
    profile = _profile(picture)
    if picture.mode.startswith(("I", "F")):  # 16-bit grey
        deep = np.asarray(picture)
        grey = np.clip(deep.astype(float) / 257.0 + 0.5, 0, 255).astype(np.uint8)
        return np.repeat(grey[..., None], 3, axis=2)
    if picture.has_transparency_data:
        picture = _on_white(picture)
    elif picture.mode not in ("RGB", "L", "CMYK"):
        picture = picture.convert("RGB")
    if profile is not None:
        picture = _convert(picture, profile)
    return np.asarray(picture if picture.mode == "RGB" else picture.convert("RGB"))


def _on_white(picture: Image.Image) -> Image.Image:
    clear = picture.convert("RGBA")
    white = Image.new("RGB", clear.size, "white")
    white.paste(clear, mask=clear.getchannel("A"))
    return white


def _profile(picture: Image.Image) -> ImageCms.ImageCmsProfile | None:
    data = picture.info.get("icc_profile")
    if not data:
        return None
    try:
        return ImageCms.ImageCmsProfile(io.BytesIO(data))
    except (OSError, ValueError):  # a broken profile: take the pixels for sRGB
        return None


def _convert(picture: Image.Image, profile: ImageCms.ImageCmsProfile) -> Image.Image:
    """Convert to sRGB, unless the profile is sRGB under another name."""
    try:
        transform = ImageCms.buildTransform(
            profile,
            ImageCms.createProfile("sRGB"),
            picture.mode,
            "RGB",
            renderingIntent=_RELATIVE_COLORIMETRIC,
        )
    except ImageCms.PyCMSError:  # a profile for other channels than the picture has
        return picture
    if picture.mode == "RGB":
        steps = np.linspace(0, 255, 6).astype(np.uint8)
        grid = np.stack(np.meshgrid(steps, steps, steps), -1).reshape(36, 6, 3)
        there = np.asarray(ImageCms.applyTransform(Image.fromarray(grid), transform))
        if np.abs(there.astype(int) - grid).max() <= _PROFILE_SLACK:
            return picture
    converted = ImageCms.applyTransform(picture, transform)
    return picture if converted is None else converted
