"""What the network is punished for.

Regions: weighted cross entropy and soft Dice, so that a strand of a few pixels counts beside a
ground of many. Area marks: binary cross entropy with weight on the rare yes, and Dice. Peaks: the
soft target is a Gaussian; the error's square weighs the cross entropy, so that the many easy
pixels far from any peak fade out.
"""

from __future__ import annotations

from dataclasses import dataclass

import torch
from torch import Tensor
from torch.nn import functional

from inspector.model import Mark, Region
from inspector.regions.training.augment import Truth
from inspector.regions.training.labels import IGNORED

PEAKS = (Mark.END, Mark.LIP, Mark.TOE)
AREAS = tuple(m for m in Mark if m not in PEAKS)
PEAK_SIGMA_D = 0.10
_LEAST_SIGMA_PX = 1.5
_REGION_WEIGHTS = {Region.CONDUCTOR: 2.0, Region.SOLDER: 1.5, Region.STRAND: 20.0}
_DICE_WEIGHTS = {Region.STRAND: 0.0, Region.CONDUCTOR: 1.5, Region.SOLDER: 1.5}
# Strands are one pixel in some ten thousand: averaged with the other regions their Dice is lost,
# and the first network never named one. They have a term of their own.
_STRAND_DICE = 0.5
_YES_WEIGHT = 4.0
_EPSILON = 1.0


@dataclass(frozen=True, slots=True)
class Targets:
    """labels (N, S, S); areas (N, len(AREAS), S/2, S/2) in 0..1; heat (N, 3, S/2, S/2);
    known (N, 1, S/2, S/2): 0 where there is no truth.
    """  # noqa: D205 - one sentence

    labels: Tensor
    areas: Tensor
    heat: Tensor
    known: Tensor


def heat(peaks: Tensor, size: int) -> Tensor:
    """Gaussians at the seen peaks at half size, (N, 3, size/2, size/2); the nearest one counts."""
    axis = torch.arange(size // 2, device=peaks.device, dtype=torch.float32)
    x, y = ((peaks[..., i, None] - 0.5) / 2 for i in (0, 1))  # (N, J, 3, 1)
    sigma = (peaks[..., 2, None] * PEAK_SIGMA_D).clamp_min(_LEAST_SIGMA_PX) / 2
    column = torch.exp(-0.5 * ((axis - x) / sigma) ** 2)
    row = torch.exp(-0.5 * ((axis - y) / sigma) ** 2) * peaks[..., 3, None]
    best = torch.zeros(len(peaks), 3, size // 2, size // 2, device=peaks.device)
    for j in range(peaks.shape[1]):
        best = torch.maximum(best, row[:, j, :, :, None] * column[:, j, :, None, :])
    return best


def targets(truth: Truth) -> Targets:
    """Truth as the losses need it."""
    size = truth.labels.shape[-1]
    shifts = torch.tensor([int(m) for m in AREAS], device=truth.bits.device)[None, :, None, None]
    areas = ((truth.bits[:, None] >> shifts) & 1).float()
    known = (truth.labels != IGNORED)[:, None].float()
    return Targets(
        truth.labels,
        functional.avg_pool2d(areas, 2),
        heat(truth.peaks, size),
        (functional.avg_pool2d(known, 2) == 1).float(),
    )


def _dice(probability: Tensor, truth: Tensor, weights: Tensor) -> Tensor:
    """1 - soft Dice by channel over the batch, of the channels that occur."""
    both = (probability * truth).sum((0, 2, 3))
    either = probability.sum((0, 2, 3)) + truth.sum((0, 2, 3))
    loss = 1 - (2 * both + _EPSILON) / (either + _EPSILON)
    weights = weights * (truth.sum((0, 2, 3)) > 0)
    return (loss * weights).sum() / weights.sum().clamp_min(1e-6)


def _weights(table: dict[Region, float], device: torch.device) -> Tensor:
    return torch.tensor([table.get(r, 1.0) for r in Region], device=device)


def region_loss(logits: Tensor, aim: Targets) -> Tensor:
    """Cross entropy and Dice of the regions; logits (N, len(Region), S, S) float32."""
    weights = _weights(_REGION_WEIGHTS, logits.device)
    entropy = functional.cross_entropy(logits, aim.labels, weights, ignore_index=IGNORED)
    known = (aim.labels != IGNORED)[:, None]
    hot = functional.one_hot(aim.labels.where(known[:, 0], 0), len(Region)).permute(0, 3, 1, 2)
    dice = _dice(
        logits.softmax(1) * known, (hot * known).float(), _weights(_DICE_WEIGHTS, logits.device)
    )
    strand = slice(int(Region.STRAND), int(Region.STRAND) + 1)
    thin = _dice(
        (logits.softmax(1) * known)[:, strand], (hot * known).float()[:, strand], logits.new_ones(1)
    )
    return torch.nan_to_num(entropy) + dice + _STRAND_DICE * thin


def mark_loss(logits: Tensor, aim: Targets) -> Tensor:
    """Loss of areas and peaks; logits (N, len(Mark), S/2, S/2) float32."""
    areas, peaks = logits[:, len(PEAKS) :], logits[:, : len(PEAKS)]
    yes = torch.full((len(AREAS), 1, 1), _YES_WEIGHT, device=logits.device)
    entropy = functional.binary_cross_entropy_with_logits(
        areas, aim.areas, pos_weight=yes, reduction="none"
    )
    entropy = (entropy * aim.known).mean() * len(AREAS)
    dice = _dice(areas.sigmoid() * aim.known, aim.areas * aim.known, areas.new_ones(len(AREAS)))
    wrong = (peaks.sigmoid().detach() - aim.heat).abs() ** 2
    sharp = functional.binary_cross_entropy_with_logits(peaks, aim.heat, reduction="none") * wrong
    focal = (sharp * aim.known).sum() / (aim.heat.sum() + 50.0)
    return entropy + 0.5 * dice + 2.0 * focal
