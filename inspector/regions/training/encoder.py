"""EfficientNet-Lite0 without its classifier, in plain torch: five maps at strides 2 to 32.

Module names are those of the published ImageNet weights, so that they load with strict keys.
Strided convolutions pad as those weights were trained: on the right and below ("same" padding of
an even size), and batch norm uses epsilon 1e-3. Pixels enter as (value - 127) / 128.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import torch
from torch import Tensor, nn
from torch.nn import functional

CHANNELS = (16, 24, 40, 112, 320)  # at strides 2, 4, 8, 16, 32
_EPSILON = 1e-3
# expansion, channels, repeats, first stride, kernel
_STAGES = (
    (1, 16, 1, 1, 3),
    (6, 24, 2, 2, 3),
    (6, 40, 2, 2, 5),
    (6, 80, 3, 2, 3),
    (6, 112, 3, 1, 5),
    (6, 192, 4, 2, 5),
    (6, 320, 1, 1, 3),
)
_TAPS = (0, 2, 4, 10, 15)  # blocks whose output leaves the encoder
_STYLED = (0, 2)  # blocks after which photos lend each other their style
_STYLED_SHARE = 0.25  # of the photos
_LEAST_SPREAD = 1e-3
_HEAD = ("_conv_head.", "_bn1.", "_fc.")  # the classifier, not used


class SameConv(nn.Conv2d):
    """Convolution without bias that pads for an even input as TensorFlow's SAME does."""

    def __init__(self, cin: int, cout: int, kernel: int, stride: int = 1, groups: int = 1) -> None:
        """Channels in and out, side of the filter, stride, groups."""
        super().__init__(cin, cout, kernel, stride, groups=groups, bias=False)
        total = kernel - stride
        self.before, self.after = total // 2, total - total // 2

    def forward(self, x: Tensor) -> Tensor:
        """(N, cin, H, W) to (N, cout, H / stride, W / stride)."""
        if self.before != self.after:
            x = functional.pad(x, (self.before, self.after, self.before, self.after))
            return functional.conv2d(x, self.weight, None, self.stride, 0, 1, self.groups)
        return functional.conv2d(x, self.weight, None, self.stride, self.before, 1, self.groups)


class Block(nn.Module):
    """Inverted residual: widen, filter each channel, narrow; added to its input if it fits."""

    def __init__(self, cin: int, cout: int, expansion: int, stride: int, kernel: int) -> None:
        """Channels in and out, widening factor, stride, side of the filter."""
        super().__init__()
        wide = cin * expansion
        self.residual = stride == 1 and cin == cout
        if expansion != 1:
            self._expand_conv = SameConv(cin, wide, 1)
            self._bn0 = nn.BatchNorm2d(wide, eps=_EPSILON)
        self._depthwise_conv = SameConv(wide, wide, kernel, stride, groups=wide)
        self._bn1 = nn.BatchNorm2d(wide, eps=_EPSILON)
        self._project_conv = SameConv(wide, cout, 1)
        self._bn2 = nn.BatchNorm2d(cout, eps=_EPSILON)

    def forward(self, x: Tensor) -> Tensor:
        """(N, cin, H, W) to (N, cout, H / stride, W / stride)."""
        y = x
        if hasattr(self, "_expand_conv"):
            y = functional.relu6(self._bn0(self._expand_conv(y)))
        y = functional.relu6(self._bn1(self._depthwise_conv(y)))
        y = self._bn2(self._project_conv(y))
        return x + y if self.residual else y


def lend_style(x: Tensor) -> Tensor:
    """Give some pictures part of another's style: its channels' means and spreads; (N, C, H, W).

    After MixStyle (Zhou et al., ICLR 2021; from memory): what a camera, a light or a renderer does
    to a picture shows in these, what a thing is does not.
    """
    spread, mean = torch.var_mean(x.detach(), (2, 3), keepdim=True)
    spread = (spread + _LEAST_SPREAD).sqrt()
    part = torch.rand(len(x), 1, 1, 1, device=x.device, dtype=x.dtype)
    part = part * (torch.rand_like(part) < _STYLED_SHARE)
    new_mean, new_spread = (torch.lerp(s, s.roll(1, 0), part) for s in (mean, spread))
    return (x - mean) / spread * new_spread + new_mean


class Encoder(nn.Module):
    """Normalised RGB (N, 3, H, W), sides multiples of 32, to five maps, finest first."""

    def __init__(self) -> None:
        """Build it with random weights."""
        super().__init__()
        self._conv_stem = SameConv(3, 32, 3, 2)
        self._bn0 = nn.BatchNorm2d(32, eps=_EPSILON)
        blocks, cin = [], 32
        for expansion, cout, repeats, stride, kernel in _STAGES:
            for i in range(repeats):
                blocks.append(Block(cin, cout, expansion, stride if i == 0 else 1, kernel))
                cin = cout
        self._blocks = nn.ModuleList(blocks)

    def forward(self, x: Tensor) -> list[Tensor]:
        """Maps with CHANNELS channels at strides 2, 4, 8, 16, 32."""
        x = functional.relu6(self._bn0(self._conv_stem(x)))
        maps = []
        for i, block in enumerate(self._blocks):
            x = block(x)
            if self.training and i in _STYLED:
                x = lend_style(x)
            if i in _TAPS:
                maps.append(x)
        return maps


def read_weights(path: Path) -> dict[str, Tensor]:
    """The encoder's tensors from a published .pth or from `write_small`'s .npz, float32."""
    if path.suffix == ".npz":
        with np.load(path) as packed:
            raw = {k: torch.from_numpy(np.array(packed[k])) for k in packed.files}
    else:
        raw = torch.load(path, map_location="cpu", weights_only=True)
    return {
        k: v.float() if v.is_floating_point() else v
        for k, v in raw.items()
        if not k.startswith(_HEAD)
    }


def load_weights(encoder: Encoder, path: Path) -> None:
    """Load ImageNet weights.

    Raises RuntimeError if a name or a shape differs.
    """
    encoder.load_state_dict(read_weights(path), strict=True)


def write_small(source: Path, target: Path) -> None:
    """Pack the encoder's weights as .npz: filters in half precision, statistics in single."""
    packed = {
        k: v.numpy().astype(np.float16) if v.ndim == 4 else v.numpy()  # noqa: PLR2004 - 4-D filter
        for k, v in read_weights(source).items()
    }
    np.savez_compressed(target, **packed)
