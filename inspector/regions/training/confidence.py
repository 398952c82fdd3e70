"""Confidence: one temperature for the regions, so that `sure` means how often it is right.

The temperature divides the logits: which region wins stays as it is. It is fitted on held-out
scenes and folded into the last convolution before export.
"""

from __future__ import annotations

import torch
from torch import Tensor
from torch.nn import functional

from inspector.regions.training.labels import IGNORED
from inspector.regions.training.net import Net

_PER_WINDOW = 4000
_BINS = 10
_LOWEST, _HIGHEST = 0.5, 4.0
_LEAST_PIXELS = 1000


class Sample:
    """Logits with their truth, at pixels drawn evenly from each window."""

    def __init__(self) -> None:
        """Start empty; the draw is the same each time."""
        self._logits: list[Tensor] = []
        self._labels: list[Tensor] = []
        self._random = torch.Generator().manual_seed(0)

    def add(self, logits: Tensor, labels: Tensor) -> None:
        """Draw from one window; logits (K, S, S), labels (S, S) with IGNORED."""
        known = torch.nonzero(labels.reshape(-1) != IGNORED)[:, 0]
        if len(known) == 0:
            return
        at = known[torch.randint(len(known), (_PER_WINDOW,), generator=self._random)]
        self._logits.append(logits.reshape(len(logits), -1)[:, at.to(logits.device)].T.cpu())
        self._labels.append(labels.reshape(-1)[at].long())

    def temperature(self) -> float:
        """The temperature of least cross entropy; 1 if there is too little to say."""
        if sum(map(len, self._labels)) < _LEAST_PIXELS:
            return 1.0
        logits, labels = torch.cat(self._logits).float(), torch.cat(self._labels)
        low, high = _LOWEST, _HIGHEST
        while high - low > 0.01:  # noqa: PLR2004 - ternary search; the loss has one valley
            one, other = low + (high - low) / 3, high - (high - low) / 3
            if _entropy(logits / one, labels) < _entropy(logits / other, labels):
                high = other
            else:
                low = one
        return round((low + high) / 2, 3)

    def gap(self, temperature: float = 1.0) -> float | None:
        """Expected calibration error: how far sureness is from being right, on average."""
        if not self._labels:
            return None
        share = (torch.cat(self._logits).float() / temperature).softmax(1)
        sure, said = share.max(1)
        right = (said == torch.cat(self._labels)).float()
        place = (sure * _BINS).long().clamp(0, _BINS - 1)
        gaps = [
            (float(right[here].mean() - sure[here].mean()), int(here.sum()))
            for here in (place == i for i in range(_BINS))
            if bool(here.any())
        ]
        return round(sum(abs(g) * n for g, n in gaps) / len(sure), 4)


def _entropy(logits: Tensor, labels: Tensor) -> float:
    return float(functional.cross_entropy(logits, labels))


@torch.no_grad()
def fold(net: Net, temperature: float) -> None:
    """Divide the region logits of `net` by the temperature, in place."""
    net.regions.weight /= temperature
    if net.regions.bias is not None:
        net.regions.bias /= temperature
