"""`python -m sample_images.studio`: render one scene, a set, or the demo set."""

from __future__ import annotations

import argparse
import json
import multiprocessing
import os
import sys
import time
import traceback
from pathlib import Path

import cv2

from .scene import Request, Scene, compose
from .sets import request


def save(scene: Scene, folder: Path, name: str) -> None:
    """Write the four files of a scene; the JSON comes last, so that a reader may wait for it."""
    folder.mkdir(parents=True, exist_ok=True)
    pieces = {
        ".jpg": scene.jpeg,
        ".regions.png": cv2.imencode(".png", scene.label)[1].tobytes(),
        ".marks.png": cv2.imencode(".png", scene.marks)[1].tobytes(),
        ".json": json.dumps(scene.truth).encode(),
    }
    for ending, data in pieces.items():
        part = folder / f".{name}{ending}.part"
        part.write_bytes(data)
        part.rename(folder / f"{name}{ending}")


def _work(purpose: str, first: int, count: int, job: int, jobs: int, out: Path, until: float, gpus: int) -> None:
    if gpus:
        os.environ["CUDA_VISIBLE_DEVICES"] = str(job % gpus)
    for number in range(first + job, first + count, jobs):
        if time.time() > until:
            return
        ask: Request = request(purpose, number)
        name = f"{ask.seed:07d}"
        if (out / f"{name}.json").exists():
            continue
        try:
            save(compose(ask), out, name)
        except Exception:  # noqa: BLE001 - one bad scene must not end the set; it is reported
            sys.stderr.write(f"scene {name} failed:\n{traceback.format_exc()}\n")


def main(given: list[str] | None = None) -> int:
    """Command line."""
    parser = argparse.ArgumentParser("python -m sample_images.studio", description=__doc__)
    verbs = parser.add_subparsers(dest="verb", required=True)
    one = verbs.add_parser("one", help="one scene, with the defects named")
    one.add_argument("--seed", type=int, required=True)
    one.add_argument("--look", default="train", choices=["train", "test"])
    one.add_argument("--fate", default="usable")
    one.add_argument("--size", type=int, nargs=2, default=[1024, 768], metavar=("WIDTH", "HEIGHT"))
    one.add_argument("--d-px", type=float, default=110.0)
    one.add_argument("--samples", type=int, default=48)
    one.add_argument("--poles", type=int)
    one.add_argument("--defects", default=None, help="names joined by +, poles by a comma, such as stray+dry,spike")
    one.add_argument("--out", type=Path, required=True)
    many = verbs.add_parser("set", help="a set of scenes by purpose")
    many.add_argument("--purpose", required=True, choices=["train", "tuning", "calibration", "test"])
    many.add_argument("--first", type=int, default=0)
    many.add_argument("--count", type=int, required=True)
    many.add_argument("--jobs", type=int, default=1)
    many.add_argument("--minutes", type=float, default=1e6, help="stop after this long")
    many.add_argument("--gpus", type=int, default=0)
    many.add_argument("--out", type=Path, required=True)
    demo = verbs.add_parser("demo", help="the committed demo photos")
    demo.add_argument("--out", type=Path, default=Path("sample_images/demo"))
    args = parser.parse_args(given)
    if args.verb == "one":
        defects = None if args.defects is None else tuple(tuple(n for n in pole.split("+") if n) for pole in args.defects.split(","))
        ask = Request(args.seed, args.look, args.fate, *args.size, args.d_px, args.samples, defects, args.poles or (len(defects) if defects else None))
        save(compose(ask), args.out, f"{args.seed:07d}")
    elif args.verb == "set":
        until = time.time() + 60 * args.minutes
        common = (args.purpose, args.first, args.count)
        if args.jobs == 1:
            _work(*common, 0, 1, args.out, until, args.gpus)
            return 0
        context = multiprocessing.get_context("spawn")
        workers = [context.Process(target=_work, args=(*common, k, args.jobs, args.out, until, args.gpus)) for k in range(args.jobs)]
        for w in workers:
            w.start()
        for w in workers:
            w.join()
    else:
        from .demo import render_demo

        render_demo(args.out)
    return 0


if __name__ == "__main__":
    sys.exit(main())
