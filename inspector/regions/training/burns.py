"""Flat burns painted over insulation and housing beside a joint's end, with their truth.

The studio's burns have a relief and a rim. On a photo many are no more than a dark stain with a
sharp or a soft edge, and a network that has only seen the others passes these.
"""

from __future__ import annotations

import torch
from torch import Tensor
from torch.nn import functional

from inspector.model import Fault, Mark, Region
from inspector.regions.training import capsules, optics, textures
from inspector.regions.training.batch import Truth, blamed, chosen, spread

# all ours, no source
CHANCE = 0.06  # of the windows
CLEARLY_D = 0.25  # greatest extent of a burn that is clearly bad: twice the check's limit
_LEAST_D = 0.06  # a smaller stain is dirt
_STANDS_OUT = 0.12  # of the range from black to white: a fainter one may be a shadow
_BURNS = (Region.INSULATION, Region.HOUSING)


def _stain(rgb: Tensor, peaks: Tensor, owner: Tensor) -> Tensor:
    """Outline of a stain near the insulation's end of one joint each, (N, S, S) in 0..1."""
    row = torch.arange(len(rgb), device=rgb.device)
    end, lip = peaks[row, owner, 0, :2], peaks[row, owner, 1, :2]
    d = peaks[row, owner, 0, 2].clamp_min(1.0)[:, None, None]
    ux, uy = functional.normalize(lip - end, dim=1)[..., None, None].unbind(1)
    back, aside = (spread(rgb, *span)[:, 0] for span in ((-0.1, 0.45), (-0.5, 0.5)))
    long, wide = (spread(rgb, *span)[:, 0] for span in ((0.12, 0.5), (0.08, 0.45)))
    axis = torch.arange(rgb.shape[-1], device=rgb.device, dtype=rgb.dtype)
    dx = axis[None, None, :] - end[:, 0, None, None]
    dy = axis[None, :, None] - end[:, 1, None, None]
    s, t = (dx * ux + dy * uy) / d, (dy * ux - dx * uy) / d
    far = ((s + back) / long) ** 2 + ((t - aside) / wide) ** 2
    far = far * torch.exp((textures.noise(rgb, 5, 1, 2)[:, 0] - 0.5) * spread(rgb, 0, 3)[:, 0])
    return torch.sigmoid((1 - far) * spread(rgb, 4, 30)[:, 0])


def burn(rgb: Tensor, truth: Truth) -> tuple[Tensor, Truth]:
    """Stain a few windows; pixels and joint are then truly burnt, as far as the stain shows.

    A joint whose stain is small, and every other joint of a stained window, are unknown.
    """
    shown = capsules.shown(truth.peaks)
    which = chosen(rgb, CHANCE)
    which = which[shown[which].any(1)]
    if len(which) == 0:
        return rgb, truth
    old, peaks = rgb[which], truth.peaks[which]
    owner = torch.multinomial(shown[which].float(), 1)[:, 0]
    row = torch.arange(len(which), device=rgb.device)
    d = peaks[row, owner, 0, 2].clamp_min(1.0)

    labels = truth.labels[which]
    takes = torch.isin(labels, torch.tensor(_BURNS, device=labels.device))
    outline = _stain(old, peaks, owner) * takes
    inside = outline > 0.5  # noqa: PLR2004 - half covered
    colour = spread(old, 0.01, 0.16) * torch.exp(spread(old, -0.25, 0.25, 3))
    grain = textures.noise(old, 3, 1, 4) * spread(old, 0.0, 0.08)
    new = torch.lerp(old, (colour + grain).clamp(0, 1), outline[:, None] * spread(old, 0.75, 1.0))

    fell = (optics.luma(old) - optics.luma(new))[:, 0]
    inside &= fell > _STANDS_OUT  # black on black is no burn that anybody could see
    by_cell = functional.avg_pool2d(inside[:, None].float(), capsules.CELL_PX)
    own = capsules.cells(peaks, *by_cell.shape[-2:])[row, owner]
    # of a disc as large as what lies by the joint: never more than the greatest extent
    area = (by_cell[:, 0] * own).sum((1, 2)) * capsules.CELL_PX**2
    stained = 2 * (inside.sum((1, 2)) / torch.pi).sqrt() / d > _LEAST_D
    if not bool(stained.any()):
        return rgb, truth

    new = torch.where(stained[:, None, None, None], new, old)
    inside &= stained[:, None, None]
    bits = truth.bits[which] | (inside.int() << int(Mark.CHAR))
    clear = 2 * (area / torch.pi).sqrt() / d > CLEARLY_D
    faults = blamed(truth.faults[which], Fault.CHAR, stained, owner, clear)
    return rgb.index_copy(0, which, new), Truth(
        truth.labels,
        truth.bits.index_copy(0, which, bits.to(truth.bits.dtype)),
        truth.peaks,
        truth.faults.index_copy(0, which, faults),
    )
