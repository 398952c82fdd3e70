"""Rendered scenes with their truth, from folders and tar shards that may still be growing.

A scene is NAME.jpg (or .png), NAME.regions.png, NAME.marks.png and NAME.json, the JSON written
last. A shard is a tar file of such scenes. Whatever cannot be read yet is tried again later, a few
times, then left out with a line in the log: a half-written file must not end a training run.
"""

from __future__ import annotations

import json
import logging
import tarfile
import zlib
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from inspector.model import Fault, Hindrance, Region
from inspector.regions.training.labels import (
    NEAR,
    UNKNOWN,
    Bits,
    Picture,
    shrink_bits,
    shrink_labels,
    shrink_picture,
)

HELD_OUT_EVERY = 20  # seeds divisible by this are never trained on
_TRIES = 4
_LARGEST_D_PX = 170.0  # no crop needs more
_STATES = {"sound": 0, "bad": 1, "near": NEAR}
_STEEP_DEG = (
    46.0,
    54.0,
)  # under it usable, over it not: about the studio's limit of 50; ours, no source
_PLAIN = (None, "tilt", "two-wires")  # fates of a photo that leave hindrances to be seen
_FULL = 0.9  # of the cup's depth that a picture can show; ours, no source
_LONGEST_PX = 1800  # of a scene without joints
_LOG = logging.getLogger("training")


@dataclass(frozen=True, slots=True)
class JointTruth:
    """One joint: D in scene pixels and peaks (3, 3) of x, y, seen (0 or 1): end, lip, toe.

    faults (OPINIONS,): 1 has it, 0 is clearly free of it, NEAR the limit, or UNKNOWN.
    """

    d_px: float
    peaks: NDArray[np.float32]
    faults: NDArray[np.int8]


@dataclass(frozen=True, slots=True)
class Scene:
    """One scene in memory: rgb (H, W, 3), labels (H, W) of Region, bits (H, W) of Mark."""

    name: str
    seed: int
    look: str
    rgb: Picture
    labels: Picture
    bits: Bits
    joints: tuple[JointTruth, ...]

    @property
    def bytes(self) -> int:
        """Memory that the scene takes."""
        return self.rgb.nbytes + self.labels.nbytes + self.bits.nbytes


def _joint(raw: dict[str, Any], scale: float) -> JointTruth:
    peaks = np.zeros((3, 3), np.float32)
    for i, key in enumerate(("end", "lip", "toe")):
        at = raw.get(key)
        if at is not None and bool(raw.get(f"{key}_visible", True)):
            peaks[i] = ((at[0] + 0.5) * scale - 0.5, (at[1] + 0.5) * scale - 0.5, 1.0)
    known = raw.get("faults", {})
    # a wire that is in to the full mostly hides where it ends: no sign of one that is not
    seat = raw.get("values", {}).get("seating", 0.0)
    if known.get("seating") == "not-seen" and seat >= _FULL:
        known = {**known, "seating": "sound"}
    faults = [_STATES.get(known.get(fault.name.lower()), UNKNOWN) for fault in Fault]
    hindrances = [raw.get("hindrances", {}).get(one, -1) for one in Hindrance]
    return JointTruth(float(raw["d_px"]) * scale, peaks, np.array(faults + hindrances, np.int8))


def _hindrances(joint: dict[str, Any]) -> dict[Hindrance, int]:
    """1 has it, 0 is free of it; lacking what is near the limit or unknown."""
    found = {Hindrance.PAIR: int(bool(joint.get("more_ends")))}
    tilt, (low, high) = joint.get("tilt_deg"), _STEEP_DEG
    if tilt is not None and not low < tilt < high:
        found[Hindrance.STEEP] = int(tilt >= high)
    return found


def _decode(raw: bytes, flags: int, what: str) -> NDArray[Any]:
    picture = cv2.imdecode(np.frombuffer(raw, np.uint8), flags)
    if picture is None:
        msg = f"{what} is not a picture (yet)"
        raise ValueError(msg)
    return picture


def read_scene(
    name: str, read: Callable[[str], bytes], wanted: Callable[[int, str], bool]
) -> Scene | None:
    """Read scene `name`, or nothing if its seed and look are not `wanted`.

    `read` gives the bytes of a file by its ending, such as ".json". Raises OSError, KeyError or
    ValueError for files that are missing, cut off or disagree.
    """
    truth = json.loads(read(".json"))
    seed, look = int(truth["seed"]), str(truth["look"])
    if not wanted(seed, look):
        return None
    try:
        picture = read(".jpg")
    except (OSError, KeyError):
        picture = read(".png")
    rgb = _decode(picture, cv2.IMREAD_COLOR, name)[..., ::-1]
    labels = _decode(read(".regions.png"), cv2.IMREAD_UNCHANGED, name)
    bits = _decode(read(".marks.png"), cv2.IMREAD_UNCHANGED, name)
    if rgb.shape[:2] != labels.shape or labels.shape != bits.shape or labels.dtype != np.uint8:
        msg = f"{name}: picture {rgb.shape}, regions {labels.shape}, marks {bits.shape} disagree"
        raise ValueError(msg)
    if labels.max() >= len(Region):
        msg = f"{name}: region {labels.max()} is unknown"
        raise ValueError(msg)
    bits = bits.astype(np.uint16)
    sizes = [float(joint["d_px"]) for joint in truth["joints"]]
    height, width = labels.shape
    scale = _LARGEST_D_PX / min(sizes) if sizes else _LONGEST_PX / max(height, width)
    if scale < 0.9:  # noqa: PLR2004 - not worth the loss of detail
        width, height = max(1, round(width * scale)), max(1, round(height * scale))
        scale = width / labels.shape[1]
        rgb = shrink_picture(rgb, width, height)
        labels, bits = shrink_labels(labels, width, height), shrink_bits(bits, width, height)
    else:
        scale = 1.0
    if not truth.get("usable", True):  # hidden under a sleeve, say: nobody could tell
        truth["joints"] = [{**joint, "faults": {}} for joint in truth["joints"]]
    if truth.get("unusable_because") in _PLAIN:
        truth["joints"] = [{**j, "hindrances": _hindrances(j)} for j in truth["joints"]]
    joints = tuple(_joint(joint, scale) for joint in truth["joints"])
    # a second wire in the same cup has an end of its own, and nothing else
    joints += tuple(
        _joint({"d_px": joint["d_px"], "end": at}, scale)
        for joint in truth["joints"]
        for at in joint.get("more_ends", [])
    )
    if not all(np.isfinite(j.peaks).all() and j.d_px > 0 for j in joints):
        msg = f"{name}: a joint's place or size is not a number"
        raise ValueError(msg)
    return Scene(name, seed, look, np.ascontiguousarray(rgb), labels, bits, joints)


def for_training(seed: int, look: str) -> bool:
    """Whether training may see a scene: of the training look, and its seed not held out."""
    return look == "train" and seed % HELD_OUT_EVERY != 0


def for_figures(seed: int, look: str) -> bool:
    """Whether a scene is of the training look but kept from training."""
    return look == "train" and seed % HELD_OUT_EVERY == 0


def _folder_scene(path: Path, wanted: Callable[[int, str], bool]) -> Iterator[Scene | None]:
    stem = str(path)[: -len(".json")]
    yield read_scene(path.stem, lambda ending: Path(stem + ending).read_bytes(), wanted)


def _shard_scenes(path: Path, wanted: Callable[[int, str], bool]) -> Iterator[Scene | None]:
    with tarfile.open(path) as shard:
        files = {m.name: m for m in shard.getmembers() if m.isfile()}

        def read(stem: str, ending: str) -> bytes:
            file = shard.extractfile(files[stem + ending])
            return b"" if file is None else file.read()

        for name in files:
            if name.endswith(".json"):
                stem = name[: -len(".json")]
                yield read_scene(Path(name).stem, partial(read, stem), wanted)


@dataclass
class Watcher:
    """Lists what has newly come under `roots` and reads this worker's share of it."""

    roots: tuple[Path, ...]
    share: int = 0
    shares: int = 1
    wanted: Callable[[int, str], bool] = for_training
    few: int = 100  # so few files that every worker reads all
    _done: set[Path] = field(default_factory=set)
    _tries: dict[Path, int] = field(default_factory=dict)

    def files(self) -> list[Path]:
        """All scene and shard files now there, sorted; temporary ones (dot or .tmp) left out."""
        found: list[Path] = []
        for root in self.roots:
            for ending in ("*.json", "*.tar"):
                found += [p for p in root.rglob(ending) if not p.name.startswith((".", "tmp"))]
        return sorted(found)

    def _mine(self, path: Path, count: int) -> bool:
        return count <= self.few or zlib.crc32(path.name.encode()) % self.shares == self.share

    def fresh(self) -> Iterator[Scene]:
        """Scenes not given before. Never raises for a bad file."""
        files = self.files()
        for path in files:
            if path in self._done or not self._mine(path, len(files)):
                continue
            try:
                reader = _shard_scenes if path.suffix == ".tar" else _folder_scene
                scenes = list(reader(path, self.wanted))
            except Exception as error:  # noqa: BLE001 - no file may keep the others from being read
                tries = self._tries[path] = self._tries.get(path, 0) + 1
                if tries >= _TRIES:
                    self._done.add(path)
                    _LOG.warning("left out %s: %s", path.name, error)
                continue
            self._done.add(path)
            yield from (scene for scene in scenes if scene is not None)
