"""The training loop: paced by the clock, so that it ends when it must.

Nothing in it may cost the run: a batch with a loss that is not finite is skipped, a batch too
large for the memory is halved, and the averaged weights are saved four times a minute.
"""

from __future__ import annotations

import logging
import math
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import torch
from torch import Tensor, nn

from inspector.regions.training import checkpoint, sheets, textures
from inspector.regions.training.augment import augment
from inspector.regions.training.batch import Truth
from inspector.regions.training.feed import Batch, Batches
from inspector.regions.training.labels import Picture
from inspector.regions.training.losses import (
    fault_loss,
    mark_loss,
    pooled,
    region_loss,
    targets,
    whole_loss,
)
from inspector.regions.training.net import Net
from inspector.regions.training.progress import Report

_LOG = logging.getLogger("training")
_SAVE_EVERY_S = 15.0
_WARM_STEPS = 100
_ENCODER_PART = 0.5  # of the learning rate
_LAST_PART = 0.01
_LARGEST_NORM = 5.0
_PROBE_STEPS = 4
_SPOILT, _SPOILT_UNTIL = (0.94, 0.5), 0.6
_MOST_FAILURES = 10
Losses = Callable[..., tuple[Tensor, ...]]


@dataclass(frozen=True, slots=True)
class Plan:
    """When and how: end in seconds of time.monotonic(), progress from..to over the run."""

    end: float
    start_progress: float
    end_progress: float
    rate: float
    most_steps: int
    out: Path
    way: str = "try"  # how a step is computed, a key of `ways`; "try": the faster of the plain two


def losses(net: nn.Module, pixels: Tensor, truth: Truth, *, half: bool) -> tuple[Tensor, ...]:
    """Region, mark, fault and whole loss of a batch (0..255); apart, so that it compiles."""
    with torch.autocast(pixels.device.type, torch.bfloat16, enabled=half):
        regions, marks, faults = net(pixels)
    aim = targets(truth)
    return (
        region_loss(regions.float(), aim),
        mark_loss(marks.float(), aim),
        fault_loss(faults.float(), aim),
        whole_loss(pooled(faults.float(), aim.joints), aim.faults),
    )


def ways() -> dict[str, tuple[torch.memory_format, Losses]]:
    """Ways to compute a step: layout in memory, and the function (compiled when first run)."""
    return {
        "plain": (torch.contiguous_format, losses),
        "channels-last": (torch.channels_last, losses),
        "compiled": (torch.channels_last, torch.compile(losses, dynamic=False)),
    }


def _rate(progress: float, step: int) -> float:
    """Share of the full learning rate: short warm-up, then cosine over the progress."""
    warm = min(1.0, (step + 1) / _WARM_STEPS)
    return warm * (_LAST_PART + (1 - _LAST_PART) * 0.5 * (1 + math.cos(math.pi * progress)))


def _spoilt(progress: float) -> float:
    """Share of the photos spoilt by a second camera: fewer toward the end, as photos mostly are.

    A fault that the second camera hides is still one to the labels.
    """
    late = max(0.0, (progress - _SPOILT_UNTIL) / (1 - _SPOILT_UNTIL))
    return _SPOILT[0] + late * (_SPOILT[1] - _SPOILT[0])


def _optimiser(net: Net, rate: float) -> torch.optim.Optimizer:
    groups: list[dict[str, Any]] = []
    for part, inside in ((_ENCODER_PART, True), (1.0, False)):
        named = [p for n, p in net.named_parameters() if n.startswith("encoder.") == inside]
        for decay, many in ((1e-2, True), (0.0, False)):  # no decay on biases and norms
            chosen = [p for p in named if (p.ndim > 1) == many]
            groups.append(
                {"params": chosen, "lr": rate * part, "part": part, "weight_decay": decay}
            )
    return torch.optim.AdamW(groups, lr=rate)


def _settle(device: torch.device) -> None:
    """Wait for the accelerator, if there is one."""
    if device.type == "cuda":
        torch.cuda.synchronize(device)


class Trainer:
    """One network in training."""

    def __init__(self, net: Net, device: torch.device, plan: Plan, size: int) -> None:
        """Put the network on the device; `size` is the side of a window."""
        self.net, self.device, self.plan = net.to(device), device, plan
        self.average = checkpoint.Average(self.net)
        self.surfaces = textures.bank(size).to(device)
        self.layout = torch.contiguous_format
        self.half = device.type == "cuda"  # bfloat16 where it is faster
        self.losses = losses
        self.optimiser = _optimiser(net, plan.rate)
        self.steps = 0
        self.largest_batch = 1 << 30

    def _move(self, batch: Batch, progress: float = 0.0) -> tuple[Tensor, Truth]:
        n = min(len(batch["rgb"]), self.largest_batch)
        on = {k: v[:n].to(self.device, non_blocking=True) for k, v in batch.items() if v.ndim}
        truth = Truth(
            on["labels"].long(), on["bits"].int(), on["peaks"].float(), on["faults"].long()
        )
        pixels = on["rgb"].float().contiguous() / 255
        return augment(pixels, truth, self.surfaces, _spoilt(progress))

    def loss(self, rgb: Tensor, truth: Truth) -> tuple[Tensor, ...]:
        """Region, mark, fault and whole loss of one augmented batch; rgb in 0..1."""
        pixels = (rgb * 255).contiguous(memory_format=self.layout)
        return self.losses(self.net, pixels, truth, half=self.half)

    def step(self, batch: Batch, progress: float) -> tuple[float, ...]:
        """One update; gives the losses, or nan when the batch had to be skipped."""
        for group in self.optimiser.param_groups:
            group["lr"] = self.plan.rate * group["part"] * _rate(progress, self.steps)
        rgb, truth = self._move(batch, progress)
        parts = self.loss(rgb, truth)
        self.optimiser.zero_grad(set_to_none=True)
        torch.stack(parts).sum().backward()
        norm = nn.utils.clip_grad_norm_(self.net.parameters(), _LARGEST_NORM)
        self.steps += 1
        if not math.isfinite(float(norm)):
            self.optimiser.zero_grad(set_to_none=True)
            return (math.nan,) * len(parts)
        self.optimiser.step()
        self.average.update(self.net)
        return tuple(torch.stack(parts).detach().tolist())

    def choose_way(self, batch: Batch) -> None:
        """Take the plan's way, or time the plain ones on a batch; weights unharmed."""
        state = {k: v.clone() for k, v in self.net.state_dict().items()}
        known = ways()
        names = ["plain", "channels-last"] if self.plan.way == "try" else [self.plan.way]
        seconds: dict[str, float] = {}
        for name in names:
            self.layout, self.losses = known[name]
            self.net.to(memory_format=self.layout)
            start = time.monotonic()
            try:
                seconds[name] = self._time(batch)
            except Exception:  # noqa: BLE001 - a way that fails is not taken
                _LOG.exception("%s: failed, not taken", name)
            _LOG.info("%s: tried in %.0f s", name, time.monotonic() - start)
        self.layout, self.losses = known[min(seconds, key=lambda n: seconds[n], default="plain")]
        self.net.load_state_dict(state)
        self.net.to(memory_format=self.layout)
        self.average = checkpoint.Average(self.net)
        self.optimiser = _optimiser(self.net, self.plan.rate)
        self.optimiser.zero_grad(set_to_none=True)
        _settle(self.device)
        _LOG.info("seconds a step: %s", {k: round(v, 4) for k, v in seconds.items()})

    def _time(self, batch: Batch) -> float:
        """Seconds of one step without the update, after one to set things up."""
        start = 0.0
        for i in range(1 + _PROBE_STEPS):
            if i == 1:
                _settle(self.device)
                start = time.monotonic()
            rgb, truth = self._move(batch)
            torch.stack(self.loss(rgb, truth)).sum().backward()
        _settle(self.device)
        return (time.monotonic() - start) / _PROBE_STEPS

    def show(self, batch: Batch, path: Path) -> None:
        """Write some augmented windows with their truth, to look at."""
        rgb, truth = self._move({k: v[:12] if v.ndim else v for k, v in batch.items()})
        pictures = (rgb * 255).byte().permute(0, 2, 3, 1).cpu().numpy()
        labels = truth.labels.byte().cpu().numpy()
        pairs: list[Picture] = []
        for picture, label in zip(pictures, labels, strict=True):
            pairs += [picture, sheets.tint(picture, label)]
        whole = [pairs[i : i + 6] for i in range(0, len(pairs) - 5, 6)]
        sheets.sheet(path, whole or [pairs])

    def save(self, progress: float) -> None:
        """Save the averaged weights; a full disk or a dead accelerator is logged, not raised."""
        try:
            checkpoint.save(
                self.plan.out / "checkpoint.pt", self.average.state, progress, self.steps
            )
        except (OSError, RuntimeError):  # torch raises the latter, for both
            _LOG.exception("the checkpoint could not be written; going on")

    def run(self, batches: Batches) -> float:
        """Train until the plan's end; gives the progress reached."""
        if self.half:
            self._guarded(self.choose_way, batches.blank())
        _LOG.info("waiting for the first scenes")
        batch = batches.take()
        self._guarded(self.show, batch, self.plan.out / "windows.jpg")
        start = saved = time.monotonic()
        span = max(self.plan.end - start, 1e-6)
        progress, report = self.plan.start_progress, Report(start)
        failures = 0
        self.net.train()
        while time.monotonic() < self.plan.end and self.steps < self.plan.most_steps:
            share = min(1.0, (time.monotonic() - start) / span)
            progress = self.plan.start_progress + share * (
                self.plan.end_progress - self.plan.start_progress
            )
            try:
                report.losses.append(self.step(batch, progress))
            except torch.cuda.OutOfMemoryError:
                self.optimiser.zero_grad(set_to_none=True)
                torch.cuda.empty_cache()
                self.largest_batch = max(1, min(self.largest_batch, len(batch["rgb"])) // 2)
                _LOG.warning("memory ran out: batches of %d from here", self.largest_batch)
            except RuntimeError as error:  # the news of a worker's death arrives anywhere
                failures += 1
                if failures > _MOST_FAILURES:
                    raise
                _LOG.warning("a step failed, going on: %s", error)
                self.optimiser.zero_grad(set_to_none=True)
            batch = batches.take()
            report.maybe(self.steps, progress, batch)
            if time.monotonic() - saved > _SAVE_EVERY_S:
                self.save(progress)
                saved = time.monotonic()
        if self.steps < self.plan.most_steps:  # the time is up: the plan is fulfilled
            progress = self.plan.end_progress
        self.save(progress)
        return progress

    def _guarded(self, action: Any, *args: Any) -> None:  # noqa: ANN401 - passes on what it gets
        """Run what the training can do without."""
        try:
            action(*args)
        except Exception:  # noqa: BLE001 - see above
            _LOG.exception("%s failed; going on without it", action.__name__)
