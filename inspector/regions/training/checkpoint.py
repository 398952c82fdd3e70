"""The averaged weights, and files to carry on from."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import torch
from torch import Tensor, nn

_DECAY = 0.999
_FILTER_DIM = 4  # a convolution's weights; statistics and biases have one dimension


class Average:
    """Exponential moving average of a network's weights and statistics."""

    def __init__(self, net: nn.Module) -> None:
        """Start from the network as it is."""
        self.state = {k: v.detach().clone() for k, v in net.state_dict().items()}
        self._steps = 0

    @torch.no_grad()
    def update(self, net: nn.Module) -> None:
        """Take the network's present weights in; the first ones weigh more."""
        self._steps += 1
        part = 1 - min(_DECAY, (1 + self._steps) / (10 + self._steps))
        now = net.state_dict()
        floats = [k for k, v in now.items() if v.is_floating_point()]
        torch._foreach_lerp_(
            [self.state[k] for k in floats], [now[k].detach() for k in floats], part
        )


def pack(state: dict[str, Tensor]) -> dict[str, Tensor]:
    """Filters in half precision, statistics in single: about 7 MB."""
    return {k: (v.half() if v.ndim == _FILTER_DIM else v).cpu() for k, v in state.items()}


def save(path: Path, state: dict[str, Tensor], progress: float, steps: int) -> None:
    """Write a checkpoint; a reader never meets half a file."""
    new = path.with_suffix(".tmp")
    torch.save({"state": pack(state), "progress": progress, "steps": steps}, new)
    new.replace(path)


def load(path: Path) -> tuple[dict[str, Tensor], float, int]:
    """Weights (float32), progress 0..1 and steps of a checkpoint."""
    raw: dict[str, Any] = torch.load(path, map_location="cpu", weights_only=True)
    state = {k: v.float() if v.is_floating_point() else v for k, v in raw["state"].items()}
    return state, float(raw["progress"]), int(raw["steps"])


def take_in(net: nn.Module, state: dict[str, Tensor]) -> list[str]:
    """Load weights into a network that may have parts that they lack; gives those parts' names.

    Raises RuntimeError where the weights do not fit, or lack some of a part only.
    """
    own = net.state_dict()
    new = {key.split(".")[0] for key in own.keys() - state.keys()}
    if broken := new & {key.split(".")[0] for key in state}:
        msg = f"the checkpoint holds only some of {', '.join(sorted(broken))}"
        raise RuntimeError(msg)
    net.load_state_dict({**{k: v for k, v in own.items() if k not in state}, **state})
    return sorted(new)
