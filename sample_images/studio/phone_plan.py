"""What the phone does to one photo, drawn beforehand: so is whether the photo can carry a verdict.

The limits that make a photo usable or not are constants here, in D (the wire's diameter in the
photo) or as stated; between the two limits of a pair nothing is drawn.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from .grounds import Look

Fate = Literal["usable", "focus", "exposure"]

USABLE_BLUR_D = 0.025  # standard deviation of the whole blur at the joint, at most
FOCUS_BLUR_D = (0.07, 0.22)  # ... of a photo that is out of focus or shaken
USABLE_CLIPPED = 0.25  # share of the joint that may be blown out
DARK = (0.0015, 0.006)  # linear median of the joint, of a photo that is far too dark
BLOWN = (2.5, 8.0)  # linear median of the joint, of a photo that is blown out (1 is white)
SENSOR_BLUR_PX = 0.45  # what optics and demosaicing cost at the least, standard deviation
DISC_SD = 0.5  # standard deviation along one axis of a uniform disc, per radius
LINE_SD = 12.0**-0.5  # ... of a line, per length


@dataclass(frozen=True)
class PhonePlan:
    """Settings of one photo. Lengths in px are of the photo before digital zoom."""

    fate: Fate
    defocus_px: float  # radius of the blur disc at the joint
    aperture_mm: float  # sets how fast things before and behind the joint blur
    blades: int  # 0 a round aperture, else the polygon's corners
    nearer: bool  # focus lies nearer than the joint
    motion_px: float
    motion_deg: float
    psf_px: float
    aberration: float  # lateral chromatic aberration, relative size of red against blue
    vignette: float  # loss of light in the corner
    bloom: float  # share of the overshoot that spreads
    metering: Literal["whole", "centre"]
    error_ev: float
    joint_level: float | None  # linear median that the joint is forced to, for fate "exposure"
    balance: tuple[float, float]  # gains of red and blue, of error only
    grey_world: float  # how far the phone neutralises the light, 0..1
    full_well: float  # electrons at white: shot noise
    read_noise: float  # electrons
    mosaic: bool
    demosaic: Literal["bilinear", "edge", "gradient"]
    denoise: float
    smear: bool  # denoising by median, as watercolour
    sharpen: float
    sharpen_px: float
    curve: Literal["gamma", "filmic", "s", "lifted"]
    contrast: float
    local: float  # local tone mapping, 0..1
    saturation: float
    zoom: float  # digital zoom that was undone by enlarging, >= 1
    quality: int  # JPEG
    subsampling: Literal["444", "422", "420"]
    smooth: float  # HEIC-like loss of fine texture, 0..1


def _blur(rng: np.random.Generator, fate: Fate, d_px: float) -> tuple[float, float, float]:
    """Radius of the defocus disc, length of the motion, sd of the lens; px."""
    lens = float(rng.uniform(0.2, 0.55))
    if fate == "focus":
        total = float(np.exp(rng.uniform(*np.log(FOCUS_BLUR_D)))) * d_px
        share = float(rng.choice([0.0, 0.0, 0.9, rng.random()]))  # of the variance, by motion
    else:
        room = max((USABLE_BLUR_D * d_px) ** 2 - SENSOR_BLUR_PX**2 - lens**2, 0.0)
        total = float(np.sqrt(room)) * float(rng.beta(1.1, 2.2))
        share = float(rng.choice([0.0, 0.0, rng.random()]))
    return total * np.sqrt(1 - share) / DISC_SD, total * np.sqrt(share) / LINE_SD, lens


def blur_px(plan: PhonePlan) -> float:
    """Standard deviation of the whole blur at the joint, px of the photo, zoom included."""
    parts = (plan.defocus_px * DISC_SD) ** 2 + (plan.motion_px * LINE_SD) ** 2 / 2
    return float(np.sqrt(parts + plan.psf_px**2 + SENSOR_BLUR_PX**2) * plan.zoom)


def plan_phone(rng: np.random.Generator, look: Look, fate: Fate, d_px: float = 96.0) -> PhonePlan:
    """Draw a photo's settings.

    d_px: what D spans in the photo. "usable" keeps the blur within USABLE_BLUR_D (or what the
    sensor costs at the least) and the exposure near right; "focus" and "exposure" miss by far.
    """
    test = look == "test"
    defocus, motion, lens = _blur(rng, fate, d_px)
    zoom = (
        float(rng.choice([1.0, rng.uniform(1.05, 1.6)], p=[0.85, 0.15]))
        if d_px * USABLE_BLUR_D > 1.5
        else 1.0
    )
    if fate == "usable":  # enlarging must not take the blur over the limit
        defocus, motion, lens = defocus / zoom, motion / zoom, lens / zoom
        zoom = min(zoom, max(1.0, USABLE_BLUR_D * d_px / 1.4))
    level, error = None, float(rng.normal(0, 0.45))
    if fate == "exposure":
        level = float(np.exp(rng.uniform(*np.log(DARK if rng.random() < 0.5 else BLOWN))))
    dim = float(rng.beta(1.2, 2.0))  # how dark the room is for the sensor
    if test:
        curve = str(rng.choice(["lifted", "filmic"]))
        demosaic = str(rng.choice(["gradient", "edge"]))
    else:
        curve = str(rng.choice(["gamma", "s", "s", "filmic"]))
        demosaic = str(rng.choice(["bilinear", "edge"]))
    return PhonePlan(
        fate=fate,
        defocus_px=float(defocus),
        aperture_mm=float(rng.uniform(0.4, 2.8)),
        blades=int(rng.choice([0, 0, 5, 6] if test else [0, 0, 7, 8])),
        nearer=bool(rng.random() < 0.5),
        motion_px=float(motion),
        motion_deg=float(rng.uniform(0, 180)),
        psf_px=lens,
        aberration=float(rng.normal(0, 0.0006)),
        vignette=float(rng.uniform(0, 0.35)),
        bloom=float(rng.uniform(0, 0.12)),
        metering="centre" if rng.random() < 0.5 else "whole",
        error_ev=float(np.clip(error, -1.5, 1.5)),
        joint_level=level,
        balance=(float(np.exp(rng.normal(0, 0.08))), float(np.exp(rng.normal(0, 0.10)))),
        grey_world=float(rng.uniform(0.4, 1.0)),
        full_well=float(np.exp(np.log(9000) - 3.4 * dim)),
        read_noise=float(rng.uniform(1.5, 5)),
        mosaic=bool(rng.random() < 0.85),
        demosaic=demosaic,  # type: ignore[arg-type]
        denoise=float(np.clip(dim * rng.uniform(0.3, 1.4), 0, 1)),
        smear=bool(rng.random() < (0.35 if test else 0.2)),
        sharpen=float(rng.uniform(0.2, 1.8) if test else rng.uniform(0.0, 1.4)),
        sharpen_px=float(rng.uniform(0.7, 1.3) if test else rng.uniform(0.6, 2.2)),
        curve=curve,
        contrast=float(rng.uniform(0.0, 1.0)),
        local=float(rng.beta(1.2, 2)),  # type: ignore[arg-type]
        saturation=float(rng.uniform(0.85, 1.28)),
        zoom=zoom,
        quality=int(rng.integers(35, 96)) if test else int(rng.integers(30, 98)),
        subsampling=str(rng.choice(["420", "420", "422", "444"])),
        smooth=float(rng.choice([0.0, rng.random()], p=[0.7, 0.3])),  # type: ignore[arg-type]
    )
