"""Picture operations for the accelerator: shifts and sums, no grouped convolutions."""

from __future__ import annotations

import math

import torch
from torch import Tensor
from torch.nn import functional

_LUMA = (0.299, 0.587, 0.114)
_QUANTISATION = (  # luminance table of ITU-T T.81 (JPEG), annex K
    (16, 11, 10, 16, 24, 40, 51, 61),
    (12, 12, 14, 19, 26, 58, 60, 55),
    (14, 13, 16, 24, 40, 57, 69, 56),
    (14, 17, 22, 29, 51, 87, 80, 62),
    (18, 22, 37, 56, 68, 109, 103, 77),
    (24, 35, 55, 64, 81, 104, 113, 92),
    (49, 64, 78, 87, 103, 121, 120, 101),
    (72, 92, 95, 98, 112, 100, 103, 99),
)


def luma(rgb: Tensor) -> Tensor:
    """Brightness (N, 1, H, W)."""
    r, g, b = _LUMA
    return r * rgb[:, 0:1] + g * rgb[:, 1:2] + b * rgb[:, 2:3]


def turn_hue(rgb: Tensor, angle: Tensor, saturation: Tensor) -> Tensor:
    """Turn colours about the grey axis by `angle` (radians) and scale their saturation."""
    y = luma(rgb)
    u, v = rgb[:, 2:3] - y, rgb[:, 0:1] - y
    cos, sin = torch.cos(angle) * saturation, torch.sin(angle) * saturation
    blue, red = y + u * cos - v * sin, y + u * sin + v * cos
    r, g, b = _LUMA
    return torch.cat([red, (y - r * red - b * blue) / g, blue], 1)


def _padded(x: Tensor, d: int) -> Tensor:
    return functional.pad(x, (d, d, d, d), mode="replicate")


def _weighted(x: Tensor, d: int, side: float) -> Tensor:
    """Weigh each pixel with its two neighbours at distance d, along rows, then columns."""
    wide = _padded(x, d)
    wide = (wide[..., : -2 * d] + wide[..., 2 * d :]) * side + wide[..., d:-d] * (1 - 2 * side)
    return (wide[..., : -2 * d, :] + wide[..., 2 * d :, :]) * side + wide[..., d:-d, :] * (
        1 - 2 * side
    )


def box3(x: Tensor) -> Tensor:
    """Mean of 3 x 3 pixels."""
    return _weighted(x, 1, 1 / 3)


def blur(x: Tensor, passes: int) -> Tensor:
    """Binomial 1-2-1 blur; every second pass takes neighbours one pixel farther."""
    for step in range(passes):
        x = _weighted(x, 1 + step // 2, 0.25)
    return x


def motion(x: Tensor) -> Tensor:
    """Smear 3 to 9 pixels straight, one direction for the batch."""
    angle, steps = float(torch.rand(())) * math.pi, int(torch.randint(1, 5, ()))
    height, width = x.shape[2:]
    wide = _padded(x, steps)
    total = torch.zeros_like(x)
    for k in range(-steps, steps + 1):
        row, column = steps + round(k * math.sin(angle)), steps + round(k * math.cos(angle))
        total += wide[..., row : row + height, column : column + width]
    return total / (2 * steps + 1)


def _cosines(device: torch.device) -> Tensor:
    k = torch.arange(8, dtype=torch.float32, device=device)
    table = torch.cos((2 * k[None, :] + 1) * k[:, None] * math.pi / 16) * 0.5
    table[0] *= math.sqrt(0.5)
    return table


def _quantised(plane: Tensor, step: Tensor) -> Tensor:
    """One plane (N, 1, H, W), sides multiples of 8, through the block transform and back."""
    n, _, height, width = plane.shape
    table = _cosines(plane.device)
    blocks = plane.reshape(n, height // 8, 8, width // 8, 8).transpose(2, 3)
    waves = table @ blocks @ table.T
    step = step[:, None, None]
    waves = (waves / step).round() * step
    blocks = table.T @ waves @ table
    return blocks.transpose(2, 3).reshape(n, 1, height, width)


def jpeg(rgb: Tensor, quality: Tensor) -> Tensor:
    """Do what JPEG at `quality` (N, 1, 1, 1) 1..100 does; sides are multiples of 16."""
    scale = torch.where(quality < 50, 5000 / quality, 200 - 2 * quality)[:, 0] / 100  # noqa: PLR2004
    base = torch.tensor(_QUANTISATION, dtype=torch.float32, device=rgb.device)
    step = (base[None] * scale).clamp(1, 255) / 255
    dx, dy = (int(v) for v in torch.randint(0, 8, (2,)))
    rgb = rgb.roll((dy, dx), (2, 3))
    y = luma(rgb)
    colours = functional.avg_pool2d(torch.cat([rgb[:, 2:3] - y, rgb[:, 0:1] - y], 1), 2)
    y = _quantised(y - 0.5, step) + 0.5
    u, v = (
        functional.interpolate(_quantised(c, step * 1.5), scale_factor=2.0, mode="bilinear")
        for c in (colours[:, 0:1], colours[:, 1:2])
    )
    red, blue = y + v, y + u
    r, g, b = _LUMA
    out = torch.cat([red, (y - r * red - b * blue) / g, blue], 1)
    return out.roll((-dy, -dx), (2, 3))


def soft_mask(mask: Tensor) -> Tensor:
    """A bool mask (N, S, S) as weights (N, 1, S, S): 0 outside, less than 1 along its edge."""
    inside = mask[:, None].float()
    return (2 * box3(inside) - 1).clamp(0, 1) * inside
