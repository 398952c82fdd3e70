"""Changes to a batch on the accelerator: what a workshop, a phone and its software may do.

All take and give pictures (N, 3, S, S) float32 in 0..1. Each change picks its own photos of the
batch. Renders have sameness that a network learns; these take it away where it is cheapest.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import torch
from torch import Tensor
from torch.nn import functional

from inspector.model import Region
from inspector.regions.training import optics, textures
from inspector.regions.training.labels import IGNORED

_RECOLOURED = (Region.INSULATION, Region.HOUSING, Region.SLEEVE)


@dataclass(frozen=True, slots=True)
class Truth:
    """labels (N, S, S) int64 with IGNORED; bits (N, S, S) int32; peaks (N, J, 3, 4)."""

    labels: Tensor
    bits: Tensor
    peaks: Tensor


def pick(like: Tensor, chance: float) -> Tensor:
    """Which photos of the batch to change, (N, 1, 1, 1) bool."""
    return torch.rand(len(like), 1, 1, 1, device=like.device) < chance


def spread(like: Tensor, low: float, high: float, channels: int = 1) -> Tensor:
    """A number for each photo, uniform, (N, channels, 1, 1)."""
    return torch.empty(len(like), channels, 1, 1, device=like.device).uniform_(low, high)


def soft_mask(mask: Tensor, passes: int = 1) -> Tensor:
    """A bool mask (N, S, S) as (N, 1, S, S) weights that fall to 0 inside the mask's edge."""
    weight = mask[:, None].float()
    for _ in range(passes):
        weight = optics.box3(weight)
    return (2 * weight - 1).clamp(0, 1)


def new_ground(rgb: Tensor, truth: Truth, bank: Tensor) -> Tensor:
    """Other grounds behind the joint: texture, or the ground of another photo of the batch."""
    shift = 1 + int(torch.randint(max(1, len(rgb) - 1), ())) if len(rgb) > 1 else 0
    other, other_labels = rgb.roll(shift, 0), truth.labels.roll(shift, 0)
    if bool(torch.rand(()) < 0.5):  # noqa: PLR2004 - even chance
        other, other_labels = other.flip(3), other_labels.flip(2)
    texture = textures.some(rgb, bank)
    ground = truth.labels == Region.BACKGROUND
    from_other = soft_mask(ground & (other_labels == Region.BACKGROUND))
    everywhere = soft_mask(ground | (truth.labels == IGNORED))
    borrowed = torch.where(pick(rgb, 0.35), from_other, torch.zeros_like(from_other))
    textured = torch.where(pick(rgb, 0.3), everywhere, torch.zeros_like(everywhere))
    shade = optics.luma(optics.blur(optics.blur(rgb, 4), 4)).clamp(0.05, 1)
    shade = shade / shade.mean((2, 3), keepdim=True)
    lit = torch.where(pick(rgb, 0.5), shade.clamp(0.3, 1.6), torch.ones_like(shade))
    part = spread(rgb, 0.6, 1.0)
    rgb = torch.lerp(rgb, other, borrowed * part)
    return torch.lerp(rgb, (texture * lit).clamp(0, 1), textured * part)


def cover(rgb: Tensor, truth: Truth, bank: Tensor) -> tuple[Tensor, Truth]:
    """Something lies over part of the photo: texture there, and background in the truth."""
    n, _, size, _ = rgb.shape
    ys = torch.arange(size, device=rgb.device)[None, :, None]
    xs = torch.arange(size, device=rgb.device)[None, None, :]
    over = torch.zeros(n, size, size, dtype=torch.bool, device=rgb.device)
    for _ in range(2):
        cx, cy, turn = (spread(rgb, 0, 1)[:, 0] for _ in range(3))
        w, h = (spread(rgb, 0.03, 0.22)[:, 0] * size for _ in range(2))
        dx, dy = xs - cx * size, ys - cy * size
        cos, sin = torch.cos(turn * math.pi), torch.sin(turn * math.pi)
        u, v = ((dx * cos + dy * sin) / w).abs(), ((dy * cos - dx * sin) / h).abs()
        round_one = pick(rgb, 0.5)[:, 0]
        over |= torch.where(round_one, u * u + v * v < 1, (u < 1) & (v < 1)) & pick(rgb, 0.2)[:, 0]
    rgb = torch.where(over[:, None], textures.some(rgb, bank), rgb)
    hidden = over & (truth.labels != IGNORED)
    labels = truth.labels.masked_fill(hidden, int(Region.BACKGROUND))
    bits = truth.bits.masked_fill(hidden, 0)
    at = truth.peaks[..., :2].round().long().clamp(0, size - 1)
    batch = torch.arange(n, device=rgb.device)[:, None, None]
    peaks = truth.peaks.clone()
    peaks[..., 3] *= (~over[batch, at[..., 1], at[..., 0]]).float()
    return rgb, Truth(labels, bits, peaks)


def recolour(rgb: Tensor, truth: Truth) -> Tensor:
    """Other colours for insulation, housing and sleeve: turn the hue, then lighten or darken."""
    for region in _RECOLOURED:
        weight = (truth.labels == region)[:, None].float()
        weight = optics.box3(weight) * pick(rgb, 0.3)
        new = optics.turn_hue(rgb, spread(rgb, -math.pi, math.pi), spread(rgb, 0.0, 1.4))
        new = new.clamp(0, 1) ** torch.exp(spread(rgb, -0.7, 0.7))
        rgb = torch.lerp(rgb, new, weight)
    return rgb


def light(rgb: Tensor) -> Tensor:
    """Shadows with soft edges, unevenness and specular spots."""
    field = textures.noise(rgb, 3, 1)
    edge = torch.sigmoid((field - spread(rgb, 0.3, 0.7)) * spread(rgb, 6, 60))
    dark = spread(rgb, 0.25, 0.9)
    rgb = torch.where(pick(rgb, 0.3), rgb * (dark + (1 - dark) * edge), rgb)
    size = rgb.shape[-1]
    axis = torch.linspace(-1, 1, size, device=rgb.device)
    slope = spread(rgb, -0.5, 0.5) * axis[None, None, :, None]
    slope = slope + spread(rgb, -0.5, 0.5) * axis[None, None, None, :]
    rgb = torch.where(pick(rgb, 0.4), rgb * (1 + slope), rgb)
    for _ in range(3):
        dx = axis[None, None, None, :] - spread(rgb, -1, 1)
        dy = axis[None, None, :, None] - spread(rgb, -1, 1)
        width = torch.exp(spread(rgb, math.log(0.005), math.log(0.08)))
        spot = torch.exp(-0.5 * (dx * dx + dy * dy * torch.exp(spread(rgb, -1.5, 1.5))) / width**2)
        rgb = torch.where(pick(rgb, 0.08), rgb + 1.5 * spot, rgb)
    return rgb


def colour(rgb: Tensor) -> Tensor:
    """Exposure, white balance, tone curve, hue, saturation, grey, swapped channels."""
    rgb = rgb * torch.exp(spread(rgb, -0.45, 0.45)) * torch.exp(spread(rgb, -0.22, 0.22, 3))
    mean = rgb.mean((1, 2, 3), keepdim=True)
    rgb = (rgb - mean) * spread(rgb, 0.7, 1.35) + mean
    rgb = optics.turn_hue(rgb, spread(rgb, -0.25, 0.25), spread(rgb, 0.5, 1.5)).clamp(0, 1)
    wild = optics.turn_hue(rgb, spread(rgb, -math.pi, math.pi), spread(rgb, 0.3, 1.6)).clamp(0, 1)
    rgb = torch.where(pick(rgb, 0.04), wild, rgb)
    rgb = rgb ** torch.exp(spread(rgb, -0.5, 0.5))
    rgb = torch.where(pick(rgb, 0.08), optics.luma(rgb).expand_as(rgb), rgb)
    return torch.where(pick(rgb, 0.03), rgb[:, torch.randperm(3, device=rgb.device)], rgb)


def camera(rgb: Tensor) -> Tensor:
    """Defocus, motion, lost resolution, noise, sharpening, JPEG."""
    for chance, passes in ((0.35, 1), (0.2, 2), (0.1, 5)):
        rgb = torch.where(pick(rgb, chance), optics.blur(rgb, passes), rgb)
    rgb = torch.where(pick(rgb, 0.1), optics.motion(rgb), rgb)
    factor = 0.45 + 0.5 * float(torch.rand(()))
    small = functional.interpolate(rgb, scale_factor=factor, mode="bilinear", antialias=True)
    back = functional.interpolate(small, size=rgb.shape[2:], mode="bilinear")
    rgb = torch.where(pick(rgb, 0.15), back, rgb)
    grain = torch.randn_like(rgb)
    grain = torch.where(pick(rgb, 0.5), optics.blur(grain, 1) * 2, grain)
    strength = torch.exp(spread(rgb, math.log(0.003), math.log(0.07)))
    rgb = torch.where(pick(rgb, 0.6), rgb + grain * strength * (0.3 + rgb.clamp(0, 1).sqrt()), rgb)
    sharp = rgb + (rgb - optics.blur(rgb, 2)) * spread(rgb, 0.3, 2.0)
    rgb = torch.where(pick(rgb, 0.35), sharp, rgb).clamp(0, 1)
    return torch.where(pick(rgb, 0.5), optics.jpeg(rgb, spread(rgb, 20, 95)), rgb).clamp(0, 1)


@torch.no_grad()
def augment(rgb: Tensor, truth: Truth, bank: Tensor) -> tuple[Tensor, Truth]:
    """All changes in the order in which they happen in the world: scene, light, camera."""
    new = new_ground(rgb, truth, bank)
    new = torch.where(pick(rgb, 0.75), recolour(new, truth), new)
    new, truth = cover(new, truth, bank)
    plain = pick(rgb, 0.06)  # a few keep the studio's light and camera
    return torch.where(plain, new, camera(colour(light(new)))), truth
