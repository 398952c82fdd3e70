"""What the training log says while it runs."""

from __future__ import annotations

import logging
import time
from dataclasses import dataclass, field

import numpy as np

from inspector.regions.training.feed import Batch

_LOG = logging.getLogger("training")
_LOG_EVERY_S = 10.0


@dataclass
class Report:
    """A line in the log every few seconds."""

    last: float
    losses: list[tuple[float, ...]] = field(default_factory=list)
    held: dict[int, int] = field(default_factory=dict)  # scenes by worker

    def maybe(self, step: int, progress: float, batch: Batch) -> None:
        """Write the line if the last one is old enough; losses are means since then."""
        self.held[int(batch.get("share", 0))] = int(batch["scenes"])
        now = time.monotonic()
        if now - self.last < _LOG_EVERY_S or not self.losses:
            return
        losses = np.array(self.losses)
        skipped = int(np.isnan(losses).any(1).sum())
        means = losses.mean(0) if skipped == 0 else np.nan_to_num(losses).mean(0)
        _LOG.info(
            "step %d progress %.3f regions %.4f marks %.4f faults %.4f whole %.4f skipped %d,"
            " %.2f steps/s, scenes %d",
            step, progress, *means, skipped, len(losses) / (now - self.last),
            sum(self.held.values()),
        )  # fmt: skip
        self.last, self.losses = now, []
