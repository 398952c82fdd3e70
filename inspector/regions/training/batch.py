"""A batch on the accelerator: its truth, and how some of its photos are picked and changed."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import torch
from torch import Tensor

from inspector.regions.training.labels import NEAR


@dataclass(frozen=True, slots=True)
class Truth:
    """labels (N, S, S) int64 with IGNORED; bits (N, S, S) int32; peaks (N, J, 3, 4).

    faults (N, J, OPINIONS): 1 has it, 0 is free of it, NEAR or UNKNOWN otherwise.
    """

    labels: Tensor
    bits: Tensor
    peaks: Tensor
    faults: Tensor


Change = Callable[[Tensor], Tensor]


def chosen(like: Tensor, chance: float) -> Tensor:
    """Indices of the photos to change; drawn on the processor, so the accelerator never waits."""
    return torch.nonzero(torch.rand(len(like)) < chance)[:, 0].to(like.device, non_blocking=True)


def some_of(rgb: Tensor, chance: float, change: Change) -> Tensor:
    """Change each photo of the batch with a chance; the others cost nothing."""
    which = chosen(rgb, chance)
    return rgb if len(which) == 0 else rgb.index_copy(0, which, change(rgb[which]))


def spread(like: Tensor, low: float, high: float, channels: int = 1) -> Tensor:
    """A number for each photo, uniform, (N, channels, 1, 1)."""
    return torch.empty(len(like), channels, 1, 1, device=like.device).uniform_(low, high)


def blamed(faults: Tensor, fault: int, where: Tensor, owner: Tensor, clear: Tensor) -> Tensor:
    """Faults (N, J, OPINIONS) of windows in which something was painted, `where` (N,) it shows.

    The joint `owner` (N,) has it where that is clear (N,); it and all others are near it otherwise.
    """
    row = torch.arange(len(faults), device=faults.device)
    one = faults[..., fault]
    one = torch.where(where[:, None] & (one == 0), torch.full_like(one, NEAR), one)
    one[row, owner] = torch.where(where & clear, torch.ones_like(owner), one[row, owner])
    out = faults.clone()
    out[..., fault] = one
    return out
