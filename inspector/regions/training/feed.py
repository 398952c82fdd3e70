"""Batches of windows, made by worker processes that each hold their own share of the scenes.

Processes, not threads: the many short calls of a window's making would queue for the interpreter
lock that the training loop needs. Each worker reads its share in a thread while it already serves
what it has, and goes on looking for new scenes until it ends.
"""

from __future__ import annotations

import logging
import math
import shutil
import threading
import time
from collections.abc import Iterator
from pathlib import Path

import cv2
import numpy as np
import torch
from torch import Tensor
from torch.utils.data import DataLoader, IterableDataset, get_worker_info

from inspector.model import OPINIONS
from inspector.regions.training.crops import MOST_JOINTS, Crop, random_crop
from inspector.regions.training.scenes import Scene, Watcher

Batch = dict[str, Tensor]
_LOOK_AGAIN_S = 4.0
_LONGEST_WAIT_S = 240.0  # for the scenes asked for, once there is a first one
_LEAST_SHARED_BYTES = 4 << 30
_LOG = logging.getLogger("training")


def stack(crops: list[Crop]) -> Batch:
    """Crops as tensors: rgb (N, 3, S, S) uint8, labels (N, S, S), bits int16, peaks, faults."""
    return {
        "rgb": torch.from_numpy(np.stack([c.rgb for c in crops])).permute(0, 3, 1, 2),
        "labels": torch.from_numpy(np.stack([c.labels for c in crops])),
        "bits": torch.from_numpy(np.stack([c.bits for c in crops])),
        "peaks": torch.from_numpy(np.stack([c.peaks for c in crops])),
        "faults": torch.from_numpy(np.stack([c.faults for c in crops])),
    }


def blank(size: int, count: int) -> Batch:
    """A batch with nothing in it, of the shapes of any other."""
    crop = Crop(
        np.zeros((size, size, 3), np.uint8),
        np.zeros((size, size), np.uint8),
        np.zeros((size, size), np.int16),
        np.zeros((MOST_JOINTS, 3, 4), np.float32),
        np.full((MOST_JOINTS, OPINIONS), -1, np.int8),
    )
    return stack([crop] * count)


class Pool:
    """Scenes in memory, filled by a thread from a watcher; full at `most_bytes`."""

    def __init__(self, watcher: Watcher, most_bytes: float) -> None:
        """Start filling."""
        self.scenes: list[Scene] = []
        self._watcher = watcher
        self._most = most_bytes
        self._bytes = 0
        threading.Thread(target=self._fill, daemon=True).start()

    def _fill(self) -> None:
        while self._bytes < self._most:
            try:
                for scene in self._watcher.fresh():
                    self.scenes.append(scene)
                    self._bytes += scene.bytes
                    if self._bytes >= self._most:
                        _LOG.warning("memory for scenes is full: %d kept", len(self.scenes))
                        break
            except Exception:  # noqa: BLE001 - no file may end a run
                _LOG.exception("reading scenes failed; going on")
            time.sleep(_LOOK_AGAIN_S)

    def wait_for(self, count: int, longest_s: float) -> None:
        """Wait for a first scene, then for `count`, for `longest_s` seconds at the most."""
        while not self.scenes:
            time.sleep(0.2)
        end = time.monotonic() + longest_s
        while len(self.scenes) < count and self._bytes < self._most and time.monotonic() < end:
            time.sleep(0.2)


class Feed(IterableDataset[Batch]):
    """Endless batches of random windows."""

    def __init__(
        self,
        roots: tuple[Path, ...],
        size: int,
        batch: int,
        seed: int,
        memory_bytes: float,
        least_scenes: int = 1,
    ) -> None:
        """Windows of side `size`, `batch` together; memory and least count are of all workers."""
        super().__init__()
        self.roots, self.size, self.batch, self.seed = roots, size, batch, seed
        self.memory_bytes, self.least_scenes = memory_bytes, least_scenes

    def __iter__(self) -> Iterator[Batch]:
        """Yield batches for ever; waits for its part of the least scenes, but not for long."""
        info = get_worker_info()
        share, shares = (info.id, info.num_workers) if info is not None else (0, 1)
        cv2.setNumThreads(1)
        torch.set_num_threads(1)
        rng = np.random.default_rng((self.seed, share))
        few = Watcher.few if self.least_scenes <= Watcher.few else 0
        watcher = Watcher(self.roots, share, shares, few=few)
        pool = Pool(watcher, self.memory_bytes / shares)
        pool.wait_for(math.ceil(self.least_scenes / shares), _LONGEST_WAIT_S)
        while True:
            crops: list[Crop] = []
            while len(crops) < self.batch:
                scene = pool.scenes[rng.integers(len(pool.scenes))]
                try:
                    crops.append(random_crop(scene, rng, self.size))
                except Exception:  # noqa: BLE001 - no scene may end a run
                    _LOG.exception("scene %s could not be cropped; going on", scene.name)
                    time.sleep(0.1)
            batch = stack(crops)
            batch["scenes"] = torch.tensor(len(pool.scenes))
            batch["share"] = torch.tensor(share)
            yield batch


def shared_memory_is_enough() -> bool:
    """Whether worker processes can hand over batches."""
    try:
        return shutil.disk_usage("/dev/shm").free >= _LEAST_SHARED_BYTES  # noqa: S108 - size only
    except OSError:
        return False


class Batches:
    """Batches from worker processes; if those die, from fewer new ones, at last from this one."""

    def __init__(self, feed: Feed, workers: int, *, pinned: bool) -> None:
        """Start the workers."""
        if workers and not shared_memory_is_enough():
            _LOG.warning("too little shared memory: windows are made in a single process")
            workers = 0
        self._feed, self._workers, self._pinned = feed, workers, pinned
        self._batches = self._start()

    def _start(self) -> Iterator[Batch]:
        if not self._workers:
            return iter(DataLoader(self._feed, batch_size=None, pin_memory=self._pinned))
        return iter(
            DataLoader(
                self._feed,
                batch_size=None,
                num_workers=self._workers,
                pin_memory=self._pinned,
                prefetch_factor=3,
                in_order=False,
            )
        )

    def blank(self) -> Batch:
        """A batch with nothing in it, at once: to compile with while the first scenes come."""
        return blank(self._feed.size, self._feed.batch)

    def take(self) -> Batch:
        """The next batch; waits for the first scene.

        Raises RuntimeError if even this process can make none.
        """
        while True:
            try:
                return next(self._batches)
            except RuntimeError as error:
                if not self._workers:
                    raise
                self._workers //= 2
                _LOG.warning("workers failed (%s): on with %d", error, self._workers)
                self._batches = self._start()
