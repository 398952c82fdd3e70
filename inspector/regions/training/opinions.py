"""Figures of the second opinion: how well it tells joints with a fault from those without."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray
from torch import Tensor

from inspector.model import Fault, Hindrance
from inspector.regions.training.batch import Truth
from inspector.regions.training.crops import Crop
from inspector.regions.training.feed import stack
from inspector.regions.training.losses import pooled, targets


@dataclass
class Opinions:
    """How well the second opinion tells joints with a fault from those without."""

    said: list[NDArray[np.float32]] = field(default_factory=list)
    truth: list[NDArray[np.int8]] = field(default_factory=list)

    def add(self, crop: Crop, local: Tensor) -> None:
        """Take in a window's joints; local (1, OPINIONS, h, w)."""
        batch = {k: v.to(local.device) for k, v in stack([crop]).items()}
        whole = Truth(
            batch["labels"].long(), batch["bits"].int(), batch["peaks"], batch["faults"].long()
        )
        aim = targets(whole)
        self.said += list(pooled(local.float(), aim.joints)[0].cpu().numpy())
        self.truth += list(aim.faults[0].cpu().numpy().astype(np.int8))

    def figures(self) -> dict[str, Any]:
        """For each: joints that have it, that are free of it, area under the ROC curve."""
        if not self.said:
            return {}
        said, truth = np.array(self.said), np.array(self.truth)
        out: dict[str, Any] = {}
        for fault in (*Fault, *Hindrance):
            bad, sound = (said[truth[:, fault] == k, fault] for k in (1, 0))
            if len(bad) and len(sound):
                area = (bad[:, None] > sound).mean() + 0.5 * (bad[:, None] == sound).mean()
                out[fault.name.lower()] = [len(bad), len(sound), round(float(area), 3)]
        return out
