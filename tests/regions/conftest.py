"""Scenes drawn flat, in the studio's format: enough to run training on, no more."""

import json
import tarfile
from pathlib import Path

import cv2
import numpy as np
import pytest

COLOURS = {
    1: (200, 30, 30),
    2: (190, 110, 60),
    3: (190, 190, 195),
    4: (215, 180, 80),
    5: (30, 60, 160),
    6: (190, 110, 60),
}


def draw_scene(folder: Path, seed: int, *, width=320, height=240, look="train", joint=True) -> Path:
    rng = np.random.default_rng(seed)
    labels = np.zeros((height, width), np.uint8)
    bits = np.zeros((height, width), np.uint16)
    joints = []
    if joint:
        d = float(rng.uniform(30, 60))
        angle = rng.uniform(0, 2 * np.pi)
        axis = np.array([np.cos(angle), np.sin(angle)])
        end = np.array([width, height]) / 2 + rng.uniform(-20, 20, 2)
        lip, toe = end + axis * d, end + axis * 1.6 * d

        def tube(a, b, thick, value):
            a, b = (tuple(round(v) for v in p) for p in (a, b))
            cv2.line(labels, a, b, value, round(thick))

        tube(lip + axis * d, lip + axis * 4 * d, 2.2 * d, 5)
        tube(lip, lip + axis * 1.2 * d, 0.9 * d, 4)
        tube(lip + axis * 0.2 * d, lip + axis * d, 0.6 * d, 3)
        tube(end, lip, 0.5 * d, 2)
        tube(end - axis * 6 * d, end, d, 1)
        tube(lip, lip + np.array([-axis[1], axis[0]]) * 1.5 * d, 2, 6)
        bits[labels == 3] |= 1 << 3
        bits[(labels == 3) & (rng.random(labels.shape) < 0.5)] |= 1 << 6
        joints.append({
            "joint": 1, "kind": "cup", "end": end.tolist(), "end_visible": True,
            "lip": lip.tolist(), "lip_visible": True, "toe": toe.tolist() if seed % 2 else None,
            "axis": axis.tolist(), "d_px": d,
            "faults": {"rough": "bad", "gap": "sound", "fill": "near", "seating": "not-seen"},
        })  # fmt: skip
    rgb = np.full((height, width, 3), rng.integers(40, 200, 3), np.uint8)
    for value, colour in COLOURS.items():
        rgb[labels == value] = colour
    rgb = np.clip(rgb + rng.normal(0, 8, rgb.shape), 0, 255).astype(np.uint8)
    folder.mkdir(parents=True, exist_ok=True)
    stem = folder / f"{seed:06d}"
    cv2.imwrite(f"{stem}.jpg", rgb[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, 95])
    cv2.imwrite(f"{stem}.regions.png", labels)
    cv2.imwrite(f"{stem}.marks.png", bits)
    truth = {"seed": seed, "look": look, "size": [width, height], "usable": True, "joints": joints}
    Path(f"{stem}.json").write_text(json.dumps(truth))
    return stem


def pack_shard(folder: Path, target: Path) -> None:
    target.mkdir(parents=True, exist_ok=True)
    with tarfile.open(target / "0001.part", "w") as tar:
        for file in sorted(folder.iterdir()):
            tar.add(file, arcname=file.name)
    (target / "0001.part").rename(target / "0001.tar")


def pytest_configure(config):
    config.addinivalue_line("markers", "train: needs the extra `train` (torch)")


@pytest.fixture
def draw():
    return draw_scene


@pytest.fixture
def shard():
    return pack_shard


@pytest.fixture
def scenes(tmp_path):
    folder = tmp_path / "scenes"
    for seed in range(1, 9):
        draw_scene(folder, seed, joint=seed % 4 != 0)
    draw_scene(folder, 20)
    return folder


@pytest.fixture
def weights(tmp_path):
    """Random encoder weights under the published names, with a classifier to be left out."""
    import torch  # noqa: PLC0415 - an extra

    from inspector.regions.training import encoder  # noqa: PLC0415 - torch again

    state = encoder.Encoder().state_dict()
    state |= {"_conv_head.weight": torch.zeros(1280, 320, 1, 1), "_fc.bias": torch.zeros(1000)}
    torch.save(state, tmp_path / "weights.pth")
    return tmp_path / "weights.pth"
