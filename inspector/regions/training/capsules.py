"""Where a joint lies in a window: what the second opinion on it looks at.

A capsule about the axis, from the insulation to beyond the terminal's lip, on a grid of cells.
"""

from __future__ import annotations

import torch
from torch import Tensor

from inspector.regions.capsule import ASIDE_D, BEHIND_D, BEYOND_D, CELL_PX

__all__ = ["CELL_PX", "cells", "lost", "share", "shown"]


def shown(peaks: Tensor) -> Tensor:
    """Which joints have end and lip in the window, (N, J) bool; peaks (N, J, 3, 4)."""
    return (peaks[..., 0, 3] > 0) & (peaks[..., 1, 3] > 0)


def cells(peaks: Tensor, height: int, width: int) -> Tensor:
    """The cells of each joint, (N, J, height, width) bool; none of a joint that is not shown.

    peaks (N, J, 3, 4): x, y, D, seen of end, lip and toe, in pixels of the window.
    """
    ys = (torch.arange(height, device=peaks.device) + 0.5) * CELL_PX - 0.5
    xs = (torch.arange(width, device=peaks.device) + 0.5) * CELL_PX - 0.5
    end, lip = peaks[..., 0, :2], peaks[..., 1, :2]
    d_px = peaks[..., 0, 2].clamp_min(1.0)
    along = lip - end
    length = along.norm(dim=-1).clamp_min(1e-3)
    ux, uy = (along / length[..., None]).unbind(-1)
    dx = xs[None, None, None, :] - end[..., 0, None, None]
    dy = ys[None, None, :, None] - end[..., 1, None, None]
    s = dx * ux[..., None, None] + dy * uy[..., None, None]
    t = dy * ux[..., None, None] - dx * uy[..., None, None]
    d = d_px[..., None, None]
    inside = (s >= -BEHIND_D * d) & (s <= length[..., None, None] + BEYOND_D * d)
    return inside & (t.abs() <= ASIDE_D * d) & shown(peaks)[..., None, None]


def share(peaks: Tensor, over: Tensor) -> Tensor:
    """Share of each joint's cells under `over` (N, 1, h, w) in 0..1; (N, J), 0 without cells."""
    mine = cells(peaks, *over.shape[-2:]).float()
    return (mine * over).sum((2, 3)) / mine.sum((2, 3)).clamp_min(1.0)


def lost(peaks: Tensor, outside: Tensor) -> Tensor:
    """Share of each joint's area beyond the window or under `outside` (N, 1, h, w); (N, J)."""
    d_px = peaks[..., 0, 2].clamp_min(1.0)
    length = (peaks[..., 1, :2] - peaks[..., 0, :2]).norm(dim=-1)
    whole = (length + (BEHIND_D + BEYOND_D) * d_px) * 2 * ASIDE_D * d_px / CELL_PX**2
    mine = cells(peaks, *outside.shape[-2:]).float()
    return 1 - (mine * (1 - outside)).sum((2, 3)) / whole
