"""Batches and truths for tests of training, drawn or made by hand; importing it needs torch."""

from __future__ import annotations

import math

import numpy as np
import torch

from inspector.model import OPINIONS
from inspector.regions.training import batch as batches
from inspector.regions.training.crops import MOST_JOINTS, Crop, random_crop
from inspector.regions.training.feed import stack
from inspector.regions.training.labels import IGNORED
from inspector.regions.training.scenes import Watcher


def batch_of(scenes, count, size=128):
    """Random windows of the scenes in a folder."""
    found = list(Watcher((scenes,)).fresh())
    rng = np.random.default_rng(0)
    return stack([random_crop(found[i % len(found)], rng, size) for i in range(count)])


def truth_of(batch):
    return batches.Truth(
        batch["labels"].long(), batch["bits"].int(), batch["peaks"].float(), batch["faults"].long()
    )


def bare_truth(labels, bits=None):
    """A truth (N, S, S) without any joint."""
    bits = torch.zeros_like(labels).int() if bits is None else bits
    return batches.Truth(
        labels,
        bits,
        torch.zeros(len(labels), MOST_JOINTS, 3, 4),
        torch.full((len(labels), MOST_JOINTS, OPINIONS), -1),
    )


def lying(middle, turn_deg, *, d_px=80.0, long_d=1.0):
    """Peaks (3, 4) of a joint whose end and lip lie about `middle`; the toe is not seen."""
    axis = np.array([math.cos(math.radians(turn_deg)), math.sin(math.radians(turn_deg))])
    half = axis * long_d * d_px / 2
    peaks = np.zeros((3, 4), np.float32)
    peaks[0], peaks[1] = ([*(middle + way * half), d_px, 1.0] for way in (-1, 1))
    return peaks


def truth_with(joints, size=512, faults=None):
    """One window with these joints' peaks; faults by joint (K, OPINIONS), none wrong if None."""
    truth = bare_truth(torch.zeros(1, size, size, dtype=torch.long))
    for i, peaks in enumerate(joints):
        truth.peaks[0, i] = torch.from_numpy(peaks)
        truth.faults[0, i] = 0 if faults is None else torch.as_tensor(faults[i])
    return truth


def crop_with(joints, faults, size=512, outside=0):
    """A window with these joints; its left `outside` columns lie beyond the scene."""
    truth = truth_with(joints, size, faults)
    labels = np.zeros((size, size), np.uint8)
    labels[:, :outside] = IGNORED
    return Crop(
        np.zeros((size, size, 3), np.uint8),
        labels,
        np.zeros((size, size), np.int16),
        truth.peaks[0].numpy(),
        truth.faults[0].numpy().astype(np.int8),
    )
