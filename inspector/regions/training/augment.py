"""Changes to a batch on the accelerator: what a workshop, a phone and its software may do.

All take and give pictures (N, 3, S, S) float32 in 0..1. Each change picks its own photos of the
batch. Renders have sameness that a network learns; these take it away where it is cheapest.
"""

from __future__ import annotations

import math
from functools import partial

import torch
from torch import Tensor
from torch.nn import functional

from inspector.model import Region
from inspector.regions.training import capsules, optics, textures
from inspector.regions.training.batch import Change, Truth, chosen, some_of, spread
from inspector.regions.training.burns import burn
from inspector.regions.training.labels import IGNORED
from inspector.regions.training.pits import pierce

_HIDES = 0.04  # of a joint: what lies over more of it may hide what is wrong
_RECOLOURED = (Region.INSULATION, Region.HOUSING, Region.SLEEVE)
# metals that share a finish: how far each colour, and the tone, may move (both natural logs)
_METALS = (
    ((Region.TERMINAL,), 0.22, 0.6),
    ((Region.CONDUCTOR, Region.STRAND), 0.2, 0.5),
    ((Region.SOLDER,), 0.1, 0.3),
)
_BARE = (Region.TERMINAL, Region.CONDUCTOR, Region.STRAND, Region.SOLDER)


def _shade(rgb: Tensor) -> Tensor:
    """Coarse light and shadow of a photo about its mean, (N, 1, S, S), to keep on a new ground."""
    coarse = functional.avg_pool2d(optics.luma(rgb), 16).clamp_min(0.05)
    coarse = (coarse / coarse.mean((2, 3), keepdim=True)).clamp(0.3, 1.6)
    return functional.interpolate(coarse, size=rgb.shape[2:], mode="bilinear")


def new_ground(rgb: Tensor, truth: Truth, bank: Tensor) -> Tensor:
    """Other grounds behind the joint: that of another photo of the batch, or a texture."""
    ground = truth.labels == Region.BACKGROUND
    which = chosen(rgb, 0.35)
    if len(which):
        shift = 1 + int(torch.randint(max(1, len(rgb) - 1), ()))
        other = (which + shift) % len(rgb)
        both = optics.soft_mask(ground[which] & (truth.labels[other] == Region.BACKGROUND).flip(2))
        part = both * spread(both, 0.6, 1.0)
        rgb = rgb.index_copy(0, which, torch.lerp(rgb[which], rgb[other].flip(3), part))
    which = chosen(rgb, 0.3)
    if len(which):
        old = rgb[which]
        everywhere = optics.soft_mask((ground | (truth.labels == IGNORED))[which])
        texture = textures.some(old, bank)
        if bool(torch.rand(()) < 0.5):  # noqa: PLR2004 - even chance
            texture = (texture * _shade(old)).clamp(0, 1)
        new = torch.lerp(old, texture, everywhere * spread(old, 0.6, 1.0))
        rgb = rgb.index_copy(0, which, new)
    return rgb


def _over(rgb: Tensor) -> Tensor:
    """Where one or two things lie over the photo, (N, S, S) bool."""
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
        round_one = torch.rand_like(w) < 0.5  # noqa: PLR2004 - even chance
        over |= torch.where(round_one, u * u + v * v < 1, (u < 1) & (v < 1))
    return over


def cover(rgb: Tensor, truth: Truth, bank: Tensor) -> tuple[Tensor, Truth]:
    """Something lies over part of the photo: texture there, and background in the truth."""
    which = chosen(rgb, 0.3)
    if len(which) == 0:
        return rgb, truth
    old, size = rgb[which], rgb.shape[-1]
    over = _over(old)
    rgb = rgb.index_copy(0, which, torch.where(over[:, None], textures.some(old, bank), old))
    labels = truth.labels[which]
    hidden = over & (labels != IGNORED)
    labels = labels.masked_fill(hidden, int(Region.BACKGROUND))
    bits = truth.bits[which].masked_fill(hidden, 0)
    peaks = truth.peaks[which]
    at = peaks[..., :2].round().long().clamp(0, size - 1)
    batch = torch.arange(len(which), device=rgb.device)[:, None, None]
    peaks[..., 3] *= (~over[batch, at[..., 1], at[..., 0]]).float()
    by_cell = functional.avg_pool2d(over[:, None].float(), capsules.CELL_PX)
    hides = capsules.share(truth.peaks[which], by_cell) > _HIDES
    faults = truth.faults[which].masked_fill(hides[..., None], -1)
    return rgb, Truth(
        truth.labels.index_copy(0, which, labels),
        truth.bits.index_copy(0, which, bits),
        truth.peaks.index_copy(0, which, peaks),
        truth.faults.index_copy(0, which, faults),
    )


def _weight(truth: Truth, which: Tensor, regions: tuple[Region, ...]) -> Tensor:
    """Where these regions are, with soft edges, (N, 1, S, S)."""
    labels = truth.labels[which]
    inside = torch.isin(labels, torch.tensor(regions, device=labels.device))
    return optics.box3(inside[:, None].float())


def recolour(rgb: Tensor, truth: Truth) -> Tensor:
    """Other colours for insulation, housing and sleeve: turn the hue, then lighten or darken."""
    for region in _RECOLOURED:
        which = chosen(rgb, 0.25)
        if len(which) == 0:
            continue
        old = rgb[which]
        weight = _weight(truth, which, (region,))
        new = optics.turn_hue(old, spread(old, -math.pi, math.pi), spread(old, 0.0, 1.4))
        new = new.clamp(0, 1) ** torch.exp(spread(old, -0.7, 0.7))
        rgb = rgb.index_copy(0, which, torch.lerp(old, new, weight))
    return rgb


def refinish(rgb: Tensor, truth: Truth) -> Tensor:
    """Other metals: gilt, tinned, tarnished, and what they mirror brighter here and darker there.

    Shade and light are coarser than the lumps of bad solder.
    """
    for regions, tint, tone in _METALS:
        which = chosen(rgb, 0.2)
        if len(which) == 0:
            continue
        old = rgb[which]
        new = old * torch.exp(spread(old, -tint, tint, 3))
        grey = optics.luma(old).expand_as(old)
        new = torch.lerp(new, grey, spread(old, 0, 1)).clamp(0, 1)
        new = new ** torch.exp(spread(old, -tone, tone))
        weight = _weight(truth, which, regions)
        rgb = rgb.index_copy(0, which, torch.lerp(old, new, weight))
    which = chosen(rgb, 0.2)
    if len(which):
        old = rgb[which]
        field = textures.noise(old, 1, 1) * 2 - 1
        new = (old * torch.exp(field * spread(old, 0.2, 0.8))).clamp(0, 1)
        rgb = rgb.index_copy(0, which, torch.lerp(old, new, _weight(truth, which, _BARE)))
    return rgb


def _shadow(rgb: Tensor) -> Tensor:
    field = textures.noise(rgb, 3, 1)
    edge = torch.sigmoid((field - spread(rgb, 0.3, 0.7)) * spread(rgb, 6, 60))
    dark = spread(rgb, 0.25, 0.9)
    return rgb * (dark + (1 - dark) * edge)


def _axis(rgb: Tensor) -> Tensor:
    return torch.linspace(-1, 1, rgb.shape[-1], device=rgb.device)


def _uneven(rgb: Tensor) -> Tensor:
    slope = spread(rgb, -0.5, 0.5) * _axis(rgb)[:, None] + spread(rgb, -0.5, 0.5) * _axis(rgb)
    return rgb * (1 + slope)


def _spot(rgb: Tensor) -> Tensor:
    dx = _axis(rgb) - spread(rgb, -1, 1)
    dy = (_axis(rgb)[:, None] - spread(rgb, -1, 1)) * torch.exp(spread(rgb, -0.8, 0.8))
    width = torch.exp(spread(rgb, math.log(0.005), math.log(0.08)))
    return rgb + 1.5 * torch.exp(-0.5 * (dx * dx + dy * dy) / width**2)


def light(rgb: Tensor) -> Tensor:
    """Shadows with soft edges, unevenness and specular spots."""
    for chance, change in ((0.3, _shadow), (0.4, _uneven), (0.1, _spot), (0.1, _spot)):
        rgb = some_of(rgb, chance, change)
    return rgb


def _wild(rgb: Tensor) -> Tensor:
    return optics.turn_hue(rgb, spread(rgb, -math.pi, math.pi), spread(rgb, 0.3, 1.6))


def _grey(rgb: Tensor) -> Tensor:
    return optics.luma(rgb).expand_as(rgb)


def _swapped(rgb: Tensor) -> Tensor:
    return rgb[:, torch.randperm(3).tolist()]


def colour(rgb: Tensor) -> Tensor:
    """Exposure, white balance, tone curve, hue, saturation, grey, swapped channels."""
    rgb = rgb * (torch.exp(spread(rgb, -0.45, 0.45)) * torch.exp(spread(rgb, -0.22, 0.22, 3)))
    mean = rgb.mean((1, 2, 3), keepdim=True)
    rgb = torch.lerp(mean, rgb, spread(rgb, 0.7, 1.35))
    rgb = optics.turn_hue(rgb, spread(rgb, -0.25, 0.25), spread(rgb, 0.5, 1.5)).clamp(0, 1)
    rgb = rgb ** torch.exp(spread(rgb, -0.5, 0.5))
    for chance, change in ((0.04, _wild), (0.08, _grey), (0.03, _swapped)):
        rgb = some_of(rgb, chance, change)
    return rgb.clamp(0, 1)


def _coarse(rgb: Tensor) -> Tensor:
    factor = 0.45 + 0.5 * float(torch.rand(()))
    small = functional.interpolate(rgb, scale_factor=factor, mode="bilinear", antialias=True)
    return functional.interpolate(small, size=rgb.shape[2:], mode="bilinear")


def _noisy(rgb: Tensor) -> Tensor:
    grain = torch.randn_like(rgb)
    if bool(torch.rand(()) < 0.5):  # noqa: PLR2004 - even chance
        grain = optics.blur(grain, 1) * 2
    strength = torch.exp(spread(rgb, math.log(0.003), math.log(0.07)))
    return rgb + grain * strength * (0.3 + rgb.clamp(0, 1).sqrt())


def _sharp(rgb: Tensor) -> Tensor:
    return (rgb + (rgb - optics.blur(rgb, 2)) * spread(rgb, 0.3, 2.0)).clamp(0, 1)


def _packed(rgb: Tensor) -> Tensor:
    return optics.jpeg(rgb.clamp(0, 1), spread(rgb, 20, 95))


_CAMERA: tuple[tuple[float, Change], ...] = (
    (0.3, partial(optics.blur, passes=1)),
    (0.2, partial(optics.blur, passes=2)),
    (0.1, partial(optics.blur, passes=5)),
    (0.1, optics.motion),
    (0.15, _coarse),
    (0.3, _noisy),
    (0.3, _noisy),
    (0.35, _sharp),
    (0.5, _packed),
)


def camera(rgb: Tensor) -> Tensor:
    """Defocus, motion, lost resolution, noise, sharpening, JPEG."""
    for chance, change in _CAMERA:
        rgb = some_of(rgb, chance, change)
    return rgb.clamp(0, 1)


@torch.no_grad()
def augment(rgb: Tensor, truth: Truth, bank: Tensor, spoilt: float = 0.94) -> tuple[Tensor, Truth]:
    """All changes in the world's order: scene, light, camera; a few photos have only the first.

    `spoilt` is the share of the photos that a second camera takes.
    """
    rgb = refinish(recolour(new_ground(rgb, truth, bank), truth), truth)
    rgb, truth = cover(rgb, truth, bank)
    rgb, truth = pierce(*burn(rgb, truth))  # after what may hide them
    rgb = some_of(rgb, 0.94, lambda part: colour(light(part)))
    return some_of(rgb, spoilt, camera), truth
