"""The network: U-Net on EfficientNet-Lite0, from RGB 0..255 to region and mark logits.

Sizes follow from the budget: 640 x 640 on two cores in under 0.2 s and 16 MB as ONNX.
- A context module at stride 32 (7 x 7 filters, global mean) tells a strand from a scratch by what
  lies around it: wire, terminal, housing.
- A second, shallow stem of full-resolution detail enters at stride 2, and the regions leave it
  through a learnt 2 x 2 upsampling, so that strands two pixels wide keep their edges without
  convolutions at full resolution.
- Marks are smooth or several pixels wide: predicted at stride 2, interpolated. They have a layer
  of their own beside what the regions need.
"""

from __future__ import annotations

import torch
from torch import Tensor, nn
from torch.nn import functional

from inspector.model import Fault, Hindrance, Mark, Region
from inspector.regions.training.encoder import CHANNELS, Encoder

MEAN, SPREAD = 127.0, 128.0
_CONTEXT = 160
_DECODER = (112, 80, 56, 40)  # channels at strides 16, 8, 4, 2
_NARROW = 32  # channels that the last step takes over from stride 4
_DETAIL = 16
_SECOND = 96
_TEXTURE = (48, 64)  # channels at strides 4 and 8, for the second opinion alone


def _unit(cin: int, cout: int, kernel: int = 3, groups: int = 1, stride: int = 1) -> nn.Sequential:
    """Convolution, batch norm, rectifier; size kept, or divided by the stride."""
    return nn.Sequential(
        nn.Conv2d(cin, cout, kernel, stride, kernel // 2, groups=groups, bias=False),
        nn.BatchNorm2d(cout),
        nn.ReLU(inplace=True),
    )


class Context(nn.Module):
    """Wide filters and the global mean at stride 32."""

    def __init__(self, cin: int, cout: int) -> None:
        """Channels in and out."""
        super().__init__()
        self.narrow = _unit(cin, cout, 1)
        self.wide = nn.ModuleList(
            nn.Sequential(_unit(cout, cout, 7, groups=cout), _unit(cout, cout, 1)) for _ in range(2)
        )
        self.overall = nn.Conv2d(cout, cout, 1)

    def forward(self, x: Tensor) -> Tensor:
        """(N, cin, h, w) to (N, cout, h, w)."""
        x = self.narrow(x)
        # a gate, not a sum: OpenCV 5 takes a broadcast sum after a convolution for a residual
        x = x * self.overall(functional.adaptive_avg_pool2d(x, 1)).sigmoid()
        for step in self.wide:
            x = x + step(x)
        return x


class More(nn.Module):
    """Two convolutions beside what there is; gives x unchanged until trained."""

    def __init__(self, channels: int) -> None:
        """Channels in and out."""
        super().__init__()
        self.first = _unit(channels, channels)
        self.second = nn.Conv2d(channels, channels, 3, padding=1, bias=False)
        self.norm = nn.BatchNorm2d(channels)
        nn.init.zeros_(self.norm.weight)

    def forward(self, x: Tensor) -> Tensor:
        """(N, channels, h, w) to the same."""
        return functional.relu(x + self.norm(self.second(self.first(x))))


class Second(nn.Module):
    """The second opinion: what is wrong with the joint here, from coarse and fine features.

    Wide filters see half a D around; what one cell says counts for the joint (see `losses`).
    """

    def __init__(self, cin: int) -> None:
        """Channels in."""
        super().__init__()
        self.drop = nn.Dropout2d(0.1)
        self.first = _unit(cin, _SECOND)
        self.wide = nn.ModuleList(
            nn.Sequential(_unit(_SECOND, _SECOND, 7, groups=_SECOND), _unit(_SECOND, _SECOND, 1))
            for _ in range(2)
        )
        self.last = nn.Conv2d(_SECOND, len(Fault), 1)
        nn.init.constant_(self.last.bias, -2.0)

    def forward(self, x: Tensor, texture: Tensor) -> tuple[Tensor, Tensor]:
        """(N, cin, h, w) and texture (N, _SECOND, h, w) to (N, len(Fault), h, w), and features."""
        x = self.first(self.drop(x)) + texture
        for step in self.wide:
            x = x + step(x)
        return self.last(x), x


class Texture(nn.Sequential):
    """From the fine features what a pooled one loses: grain, waves, dots; zero until trained."""

    def __init__(self, cin: int) -> None:
        """Channels in; gives _SECOND at a quarter of the size."""
        last = nn.Conv2d(_TEXTURE[1], _SECOND, 1, bias=False)
        nn.init.zeros_(last.weight)
        super().__init__(_unit(cin, _TEXTURE[0], stride=2), _unit(*_TEXTURE, stride=2), last)


def _double(x: Tensor) -> Tensor:
    return functional.interpolate(x, scale_factor=2.0, mode="bilinear", align_corners=False)


class Net(nn.Module):
    """RGB (N, 3, H, W) in 0..255, sides multiples of 32.

    Gives region logits (N, len(Region), H, W), mark logits (N, len(Mark), H / 2, W / 2) and local
    log-odds of faults and hindrances (N, OPINIONS, H / 8, W / 8).
    """

    def __init__(self) -> None:
        """Build it with random weights; load the encoder's apart."""
        super().__init__()
        self.encoder = Encoder()
        c2, c4, c8, c16, c32 = CHANNELS
        w16, w8, w4, w2 = _DECODER
        self.context = Context(c32, _CONTEXT)
        self.up16 = _unit(_CONTEXT + c16, w16)
        self.up8 = nn.Sequential(_unit(w16 + c8, w8), More(w8))
        self.up4 = nn.Sequential(_unit(w8 + c4, w4), More(w4))
        self.narrow = _unit(w4, _NARROW, 1)
        self.detail = nn.Sequential(
            nn.Conv2d(3, _DETAIL, 4, 2, padding=1, bias=False),
            nn.BatchNorm2d(_DETAIL),
            nn.ReLU(inplace=True),
        )
        self.up2 = nn.Sequential(_unit(_NARROW + c2 + _DETAIL, w2), _unit(w2, w2), More(w2))
        self.regions = nn.ConvTranspose2d(w2, len(Region), 2, 2)
        self.marks = nn.Conv2d(w2, len(Mark), 1)
        nn.init.constant_(self.marks.bias, -4.0)  # marks are rare: start from "none"
        self.marks_around = nn.Sequential(_unit(w2, w2), nn.Conv2d(w2, len(Mark), 1, bias=False))
        nn.init.zeros_(self.marks_around[1].weight)
        self.faults = Second(w8 + w2)
        self.texture = Texture(w2)
        self.hindrances = nn.Conv2d(_SECOND, len(Hindrance), 1)
        nn.init.constant_(self.hindrances.bias, -2.0)

    def forward(self, rgb: Tensor) -> tuple[Tensor, Tensor, Tensor]:
        """Region logits at full size, mark logits at half size, opinions' local log-odds at 1/8."""
        x = (rgb - MEAN) / SPREAD
        e2, e4, e8, e16, e32 = self.encoder(x)
        y = self.context(e32)
        y = self.up16(torch.cat([_double(y), e16], 1))
        y = rough = self.up8(torch.cat([_double(y), e8], 1))
        y = self.up4(torch.cat([_double(y), e4], 1))
        y = self.up2(torch.cat([_double(self.narrow(y)), e2, self.detail(x)], 1))
        fine = functional.max_pool2d(y, 4)
        faults, features = self.faults(torch.cat([rough, fine], 1), self.texture(y))
        opinions = torch.cat([faults, self.hindrances(features)], 1)
        return self.regions(y), self.marks(y) + self.marks_around(y), opinions
