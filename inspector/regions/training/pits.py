"""Pits and cracks painted on solder, with their truth.

Few of the studio's joints show one, and a finder of rare things learns from how many it has seen.
The painted ones are dark and matt with a sharp, uneven edge, as an opening is, whatever the solder
round them mirrors; some have a bright rim.
"""

from __future__ import annotations

import torch
from torch import Tensor
from torch.nn import functional

from inspector.model import Fault, Mark, Region
from inspector.regions.training import capsules, optics, textures
from inspector.regions.training.batch import Truth, blamed, chosen, spread

# all ours, no source
CHANCE = 0.07  # of the windows
CLEARLY_D = 0.08  # greatest extent of a pit that is clearly bad, as in the studio's limits.py
_LEAST_PX = 12.0  # of its area; a smaller one is a speck
_STANDS_OUT = 0.15  # of the range from black to white, against what it lies on
_DARKER = 0.6  # of the light that it takes the place of, at most so much is left
_CRACKS = 0.3  # of the pits are cracks, eight times as long as wide


def _outline(rgb: Tensor, at: Tensor, d: Tensor) -> Tensor:
    """Signed field of a pit at (N, 2) each, (N, S, S): over 0 inside, 1 at its middle."""
    axis = torch.arange(rgb.shape[-1], device=rgb.device, dtype=rgb.dtype)
    dx = axis[None, None, :] - at[:, 0, None, None]
    dy = axis[None, :, None] - at[:, 1, None, None]
    turn = spread(rgb, 0, torch.pi)[:, 0]
    u, v = dx * turn.cos() + dy * turn.sin(), dy * turn.cos() - dx * turn.sin()
    round_one = (torch.rand(len(rgb), 1, 1, device=rgb.device) > _CRACKS).to(rgb.dtype)
    radius = d[:, None, None] * torch.exp(spread(rgb, -3.4, -1.9)[:, 0])  # 0.03 to 0.15 D
    long = radius * (1 + 2.0 * (1 - round_one))
    wide = radius * (round_one * spread(rgb, 0.6, 1.0)[:, 0] + (1 - round_one) * 0.3)
    bent = v + (1 - round_one) * 0.4 * radius * torch.sin(2 * u / radius)
    far = ((u / long) ** 2 + (bent / wide) ** 2).sqrt()
    uneven = (textures.noise(rgb, 4, 1, 4)[:, 0] - 0.5) * spread(rgb, 0.2, 1.0)[:, 0]
    return 1 - far * torch.exp(uneven)


def _places(truth: Truth, which: Tensor, owner: Tensor) -> tuple[Tensor, Tensor]:
    """A pixel of each one's own solder (N, 2) as x, y, and whether there is any (N,)."""
    labels, peaks = truth.labels[which], truth.peaks[which]
    row = torch.arange(len(which), device=labels.device)
    half = labels.shape[-1] // capsules.CELL_PX
    cells = capsules.cells(peaks, half, half)
    own = (cells[row, owner] & (cells.sum(1) == 1)).float()  # not what may be the next pole's
    own = functional.interpolate(own[:, None], scale_factor=capsules.CELL_PX)[:, 0]
    weight = (own * (labels == Region.SOLDER)).flatten(1)
    there = weight.sum(1) > 0
    flat = torch.multinomial(weight + (~there)[:, None].float(), 1)[:, 0]
    wide = labels.shape[-1]
    return torch.stack([flat % wide, flat // wide], 1).to(peaks.dtype), there


def pierce(rgb: Tensor, truth: Truth) -> tuple[Tensor, Truth]:
    """Paint a pit on the solder of one joint in a few windows, as far as it stands out.

    That joint then has a hole, or is unknown if the pit is small; every other joint of the window
    is unknown unless it has one.
    """
    shown = capsules.shown(truth.peaks)
    which = chosen(rgb, CHANCE)
    which = which[shown[which].any(1)]
    if len(which) == 0:
        return rgb, truth
    old = rgb[which]
    owner = torch.multinomial(shown[which].float(), 1)[:, 0]
    at, there = _places(truth, which, owner)
    row = torch.arange(len(which), device=rgb.device)
    d = truth.peaks[which][row, owner, 0, 2].clamp_min(1.0)

    field = _outline(old, at, d)
    solder = truth.labels[which] == Region.SOLDER
    steep = spread(old, 8, 30)[:, 0]
    cover = torch.sigmoid(field * steep) * there[:, None, None]
    softness = int(torch.randint(0, 4, ()))  # photos are seldom as sharp as paint
    cover = optics.blur(cover[:, None], softness)[:, 0] * solder
    inside = cover > 0.5  # noqa: PLR2004 - half covered
    dark = spread(old, 0.0, 0.14) * torch.exp(spread(old, -0.2, 0.2, 3))
    new = torch.lerp(old, dark.expand_as(old), cover[:, None])
    rim = torch.exp(-((field + 0.25) ** 2) / 0.02) * solder * there[:, None, None]
    lit = rim[:, None] * spread(old, 0.0, 0.5) * (spread(old, 0, 1) < 0.5)  # noqa: PLR2004
    new = torch.lerp(new, torch.ones_like(new), lit * (~inside[:, None]))

    before, after = (optics.luma(k)[:, 0] for k in (old, new))
    area = inside.sum((1, 2))
    per = area.clamp_min(1)
    was, is_now = ((k * inside).sum((1, 2)) / per for k in (before, after))
    shows = (area >= _LEAST_PX) & (was - is_now > _STANDS_OUT) & (is_now < _DARKER * was)
    if not bool(shows.any()):
        return rgb, truth

    new = torch.where(shows[:, None, None, None], new, old)
    inside &= shows[:, None, None]
    bits = truth.bits[which] | (inside.int() << int(Mark.HOLE))
    faults = blamed(truth.faults[which], Fault.HOLE, shows, owner, _extent(inside) / d > CLEARLY_D)
    return rgb.index_copy(0, which, new), Truth(
        truth.labels,
        truth.bits.index_copy(0, which, bits.to(truth.bits.dtype)),
        truth.peaks,
        truth.faults.index_copy(0, which, faults),
    )


def _extent(inside: Tensor) -> Tensor:
    """The longer side of each mask's box, pixels, between middles of pixels as in truth; (N,)."""
    sides = []
    for axis in (1, 2):
        hit = inside.any(axis).int()
        count = hit.shape[1]
        last = count - hit.flip(1).argmax(1)
        sides.append((last - 1 - hit.argmax(1)) * hit.any(1))
    return torch.stack(sides).amax(0).float()
