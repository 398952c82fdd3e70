"""What the network is punished for.

Regions: weighted cross entropy and soft Dice. Area marks: binary cross entropy with weight on the
rare yes, and Dice. Peaks: the soft target is a Gaussian; the error's square weighs the cross
entropy, so that the many easy pixels far from any peak fade out.

Strands and most marks cover one pixel in ten thousand or fewer. A mean over all pixels gives them
no pull, and Dice none either once their probability is near zero, for its slope falls with the
probability: the first network never named a strand. So they have a term of their own, `rare_loss`,
that is divided by their own pixels and by nothing else.
"""

from __future__ import annotations

from dataclasses import dataclass

import torch
from torch import Tensor
from torch.nn import functional

from inspector.model import Fault, Mark, Region
from inspector.regions.training.batch import Truth
from inspector.regions.training.capsules import CELL_PX, cells, lost
from inspector.regions.training.labels import IGNORED, NEAR, UNKNOWN

PEAKS = (Mark.END, Mark.LIP, Mark.TOE)
AREAS = tuple(m for m in Mark if m not in PEAKS)
PEAK_SIGMA_D = 0.10
_LEAST_SIGMA_PX = 1.5
_REGION_WEIGHTS = {Region.CONDUCTOR: 2.0, Region.SOLDER: 1.5, Region.STRAND: 5.0}
_DICE_WEIGHTS = {Region.STRAND: 0.0, Region.CONDUCTOR: 1.5, Region.SOLDER: 1.5}
_STRAND_DICE = 0.5  # averaged with the other regions' it would be lost
_RARE_STRAND = 0.1
_RARE_MARKS = 0.5
_MISS_WEIGHT = 2.0  # a miss is worse than a false alarm
_RIM_WEIGHT = 0.6  # a pixel beside a strand: where a strand of a pixel ends is convention
_LEAST_SHARE = 3e-5  # of the pixels, to divide by when a batch has less of a rare thing
_YES_WEIGHT = 4.0
_EPSILON = 1.0
_FAULTS = 0.3
_WHOLE = 0.3  # ours, no source; tried at no other
_MOST_KNOWN = 12  # of the faults, to call a joint sound that has none of them; ours, no source
_LEAST_D_PX = 44.0  # smaller joints show too little for a second opinion
_MOST_OUTSIDE = 0.1  # share of a joint beyond the scene or the window
_LEAST_AGAINST = 1e-12  # keeps the logarithm finite
_LARGEST_ODDS = 14.0  # of a cell; keeps the exponential within bounds


@dataclass(frozen=True, slots=True)
class Targets:
    """labels (N, S, S); areas (N, len(AREAS), S/2, S/2) in 0..1; heat (N, 3, S/2, S/2);
    known (N, 1, S/2, S/2): 0 where there is no truth; joints (N, J, S/8, S/8): their cells;
    faults (N, J, OPINIONS): 1, 0, or negative where nothing is known or the window lacks a part.
    """  # noqa: D205 - one sentence

    labels: Tensor
    areas: Tensor
    heat: Tensor
    known: Tensor
    joints: Tensor
    faults: Tensor


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
    outside = 1 - functional.avg_pool2d(known, CELL_PX)
    joints = cells(truth.peaks, *outside.shape[-2:])
    small = truth.peaks[..., 0, 2] < _LEAST_D_PX
    left_out = small | (lost(truth.peaks, outside) > _MOST_OUTSIDE) | ~joints.any(-1).any(-1)
    return Targets(
        truth.labels,
        functional.avg_pool2d(areas, 2),
        heat(truth.peaks, size),
        (functional.avg_pool2d(known, 2) == 1).float(),
        joints,
        truth.faults.masked_fill(left_out[..., None], UNKNOWN),
    )


def _dice(probability: Tensor, truth: Tensor, weights: Tensor) -> Tensor:
    """1 - soft Dice by channel over the batch, of the channels that occur."""
    both = (probability * truth).sum((0, 2, 3))
    either = probability.sum((0, 2, 3)) + truth.sum((0, 2, 3))
    loss = 1 - (2 * both + _EPSILON) / (either + _EPSILON)
    weights = weights * (truth.sum((0, 2, 3)) > 0)
    return (loss * weights).sum() / weights.sum().clamp_min(1e-6)


def rare_loss(log_odds: Tensor, truth: Tensor, known: Tensor) -> Tensor:
    """Focal loss by channel (N, K, H, W), each divided by its own true pixels; gives (K,).

    `truth` in 0..1; `known` (N, 1 or K, H, W) weighs the pixels where there is none.
    """
    p = log_odds.sigmoid()
    miss = truth * (1 - p).square() * functional.softplus(-log_odds)
    alarm = (1 - truth) * known * p.square() * functional.softplus(log_odds)
    least = _LEAST_SHARE * log_odds[:, 0].numel()
    count = (truth * known).sum((0, 2, 3)).clamp_min(least)
    return (_MISS_WEIGHT * miss * known.ceil() + alarm).sum((0, 2, 3)) / count


def _strand_log_odds(logits: Tensor) -> Tensor:
    """Strand against all other regions together, (N, 1, S, S)."""
    i = int(Region.STRAND)
    others = torch.cat([logits[:, :i], logits[:, i + 1 :]], 1).logsumexp(1, keepdim=True)
    return logits[:, i : i + 1] - others


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
    odds = _strand_log_odds(logits)
    strand = (aim.labels == Region.STRAND)[:, None].float()
    thin = _dice(odds.sigmoid() * known, strand, logits.new_ones(1))
    near = functional.max_pool2d(strand, 3, 1, 1)
    weight = known * torch.where(near > strand, _RIM_WEIGHT, 1.0)
    rare = rare_loss(odds, strand, weight)[0]
    return torch.nan_to_num(entropy) + dice + _STRAND_DICE * thin + _RARE_STRAND * rare


def mark_loss(logits: Tensor, aim: Targets) -> Tensor:
    """Loss of areas and peaks; logits (N, len(Mark), S/2, S/2) float32."""
    areas, peaks = logits[:, len(PEAKS) :], logits[:, : len(PEAKS)]
    yes = torch.full((len(AREAS), 1, 1), _YES_WEIGHT, device=logits.device)
    entropy = functional.binary_cross_entropy_with_logits(
        areas, aim.areas, pos_weight=yes, reduction="none"
    )
    entropy = (entropy * aim.known).mean() * len(AREAS)
    dice = _dice(areas.sigmoid() * aim.known, aim.areas * aim.known, areas.new_ones(len(AREAS)))
    rare = rare_loss(areas, aim.areas, aim.known).mean()
    wrong = (peaks.sigmoid().detach() - aim.heat).abs() ** 2
    sharp = functional.binary_cross_entropy_with_logits(peaks, aim.heat, reduction="none") * wrong
    focal = (sharp * aim.known).sum() / (aim.heat.sum() + 50.0)
    return entropy + 0.5 * dice + _RARE_MARKS * rare + 2.0 * focal


def pooled(local: Tensor, joints: Tensor) -> Tensor:
    """Log-odds of each joint's faults, (N, J, K): the log of the mean odds over its cells.

    local (N, K, h, w), joints (N, J, h, w) bool. One cell that is sure speaks for the joint. The
    same as `inspector.second.log_odds`.
    """
    odds = (_LARGEST_ODDS * torch.tanh(local / _LARGEST_ODDS)).exp().flatten(2)
    mine = joints.flatten(2).float()
    total = torch.einsum("njc,nkc->njk", mine, odds)
    return (total / mine.sum(2, keepdim=True).clamp_min(1.0) + 1e-9).log()


def fault_loss(local: Tensor, aim: Targets) -> Tensor:
    """Binary cross entropy of the joints' faults, the mean of each fault's over what is known."""
    given = aim.faults >= 0
    odds = pooled(local, aim.joints)
    entropy = functional.binary_cross_entropy_with_logits(
        odds, aim.faults.clamp_min(0).float(), reduction="none"
    )
    each = (entropy * given).sum((0, 1)) / given.sum((0, 1)).clamp_min(4)
    return _FAULTS * each.sum()


def whole_loss(odds: Tensor, faults: Tensor) -> Tensor:
    """Binary cross entropy of a joint's having any fault at all, bad and sound weighing alike.

    odds (as `pooled` gives them) and faults (N, J, OPINIONS). That is what a pass rests on
    (`inspector.second.overall`). A bad joint need only be caught by one of the faults that it has;
    a sound one by none.
    """
    count = len(Fault)
    against, faults = functional.softplus(odds[..., :count]), faults[..., :count]
    bad = (faults == 1).any(-1)
    sound = ~bad & ~(faults == NEAR).any(-1) & ((faults == 0).sum(-1) >= _MOST_KNOWN)
    caught = (against * (faults == 1)).sum(-1).clamp_min(_LEAST_AGAINST)
    missed = -torch.log(-torch.expm1(-caught))
    alarm = against.sum(-1)
    means = [
        (loss * which).sum() / which.sum().clamp_min(4)
        for loss, which in ((missed, bad), (alarm, sound))
    ]
    return _WHOLE * torch.stack(means).mean()
