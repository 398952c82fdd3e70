"""Textures for grounds and covers: noise, stripes, checks, plain colours, photographed surfaces.

Of scikit-image's pictures only surfaces and print are used; its faces and objects stay unseen,
because the tests ask that none of them passes for a joint.
"""

from __future__ import annotations

import logging
import math

import cv2
import numpy as np
import torch
from torch import Tensor
from torch.nn import functional

_SURFACES = ("brick", "grass", "gravel", "page", "text", "moon")
_LOG = logging.getLogger("training")


def bank(size: int) -> Tensor:
    """Photographed surfaces (K, 3, size, size) uint8; K is 0 if scikit-image has none here."""
    found = []
    try:
        from skimage import data  # noqa: PLC0415 - optional: noise does without it

        for name in _SURFACES:
            picture = np.asarray(getattr(data, name)())
            if picture.ndim == 2:  # noqa: PLR2004 - grey
                picture = np.repeat(picture[..., None], 3, 2)
            picture = cv2.resize(picture[..., :3].astype(np.uint8), (size, size))
            found.append(torch.from_numpy(picture).permute(2, 0, 1))
    except Exception as error:  # noqa: BLE001 - whatever is wrong there must not end a training run
        _LOG.warning("pictures of surfaces are not used: %s", error)
    return torch.stack(found) if found else torch.zeros(0, 3, size, size, dtype=torch.uint8)


def noise(like: Tensor, octaves: int, channels: int, finest: int = 0) -> Tensor:
    """Smooth noise in 0..1, (N, channels, S, S); each finer octave is fainter or, at times, not."""
    n, size = len(like), like.shape[-1]
    total = like.new_zeros(n, channels, size, size)
    weight = 0.0
    falloff = 0.4 + 0.6 * float(torch.rand(()))
    start = 1 + int(torch.randint(0, 3, ())) + finest
    for octave in range(octaves):
        cells = min(2 ** (start + octave), size)
        grid = torch.rand(n, channels, cells, cells, device=like.device)
        total += functional.interpolate(grid, size=(size, size), mode="bicubic") * falloff**octave
        weight += falloff**octave
    return ((total / weight - 0.5) * 1.6 + 0.5).clamp(0, 1)


def _lines(like: Tensor) -> Tensor:
    """Stripes or squares of any pitch, angle and sharpness, (N, 1, S, S)."""
    n, size = len(like), like.shape[-1]
    axis = torch.arange(size, device=like.device, dtype=torch.float32)
    turn, ratio, both = (torch.rand(n, 1, 1, 1, device=like.device) for _ in range(3))
    pitch = torch.exp(math.log(6) + turn.new_empty(n, 1, 1, 1).uniform_(0, 3))
    cos, sin = torch.cos(turn * math.pi), torch.sin(turn * math.pi)
    u = (axis[None, None, None, :] * cos + axis[None, None, :, None] * sin) / pitch
    v = (axis[None, None, :, None] * cos - axis[None, None, None, :] * sin) / pitch
    share = 0.05 + 0.5 * ratio
    on = (u.frac().abs() < share) | ((v.frac().abs() < share) & (both < 0.5))  # noqa: PLR2004
    return on.float()


def some(like: Tensor, surfaces: Tensor) -> Tensor:
    """A texture for each photo of the batch, (N, 3, S, S) in 0..1."""
    n, size = len(like), like.shape[-1]

    def tone() -> Tensor:
        return torch.rand(n, 3, 1, 1, device=like.device)

    def chosen(chance: float) -> Tensor:
        return torch.rand(n, 1, 1, 1, device=like.device) < chance

    depth = torch.rand(n, 1, 1, 1, device=like.device)
    base = tone()
    out = torch.lerp(base, noise(like, 7, 3), depth * chosen(0.5))
    grey = noise(like, 8, 1)
    out = torch.lerp(out, torch.lerp(base, tone(), grey), depth * chosen(0.7))
    out = torch.where(chosen(0.3), torch.lerp(out, tone(), _lines(like) * depth), out)
    if len(surfaces):
        which = torch.randint(len(surfaces), (n,), device=like.device)
        photo = surfaces[which].float() / 255
        if photo.shape[-1] != size:
            photo = functional.interpolate(photo, size=(size, size), mode="bilinear")
        if bool(torch.rand(()) < 0.5):  # noqa: PLR2004 - even chance
            photo = photo.transpose(2, 3)
        tinted = (photo * (0.4 + 0.9 * tone())).clamp(0, 1)
        out = torch.where(chosen(0.25), tinted, out)
    return out.clamp(0, 1)
