"""`python -m inspector.regions.training.blend`: one network from two, one trained from the other.

The weights of a network and of the one that it was trained on from are averaged. Both lie in one
valley of the loss, and what lies between them errs less than either where photos differ from those
of the training (Wortsman and others, Robust fine-tuning of zero-shot models, CVPR 2022, and
Izmailov and others, Averaging weights leads to wider optima, UAI 2018; both from memory).
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

import torch
from torch import Tensor

from inspector.regions.training import checkpoint
from inspector.regions.training.export import export
from inspector.regions.training.net import Net


def blended(old: dict[str, Tensor], new: dict[str, Tensor], share: float) -> dict[str, Tensor]:
    """`share` (0 to 1) of the old weights and the rest of the new ones; keys and shapes as `new`.

    What only the new network has, such as rows of an output that it gained, is the new one's.
    Raises ValueError where the old weights do not fit into the new ones.
    """
    if not 0.0 <= share <= 1.0:
        raise ValueError(f"the share {share:g} is not between 0 and 1")
    found = {}
    for key, value in new.items():
        before = old.get(key)
        mixed = value.clone()
        if before is not None and value.is_floating_point():
            if before.ndim != value.ndim or any(
                a > b for a, b in zip(before.shape, value.shape, strict=True)
            ):
                raise ValueError(f"{key} is {tuple(before.shape)}, then {tuple(value.shape)}")
            part = tuple(slice(0, size) for size in before.shape)
            mixed[part] = torch.lerp(value[part], before, share)
        found[key] = mixed
    return found


def main(given: list[str] | None = None) -> int:
    """Command line."""
    parser = argparse.ArgumentParser("python -m inspector.regions.training.blend")
    parser.add_argument("old", type=Path, help="checkpoint that the new one was trained on from")
    parser.add_argument("new", type=Path, help="the new checkpoint")
    parser.add_argument("--share", type=float, default=0.3, help="of the old weights, 0 to 1")
    parser.add_argument("--out", type=Path, required=True, help="folder for the blend")
    args = parser.parse_args(given)
    try:
        old, (new, progress, steps) = checkpoint.load(args.old)[0], checkpoint.load(args.new)
        state = blended(old, new, args.share)
    except (OSError, ValueError) as error:
        sys.stderr.write(f"No blend was made: {error}.\n")
        return 2
    args.out.mkdir(parents=True, exist_ok=True)
    checkpoint.save(args.out / "checkpoint.pt", state, progress, steps)
    net = Net()
    net.load_state_dict(checkpoint.load(args.out / "checkpoint.pt")[0])
    export(net, args.out / "network.onnx", f"{args.share:g} old, {1 - args.share:g} new")
    sys.stdout.write(f"{args.out / 'network.onnx'}\n")
    return 0


if __name__ == "__main__":
    sys.exit(main())
