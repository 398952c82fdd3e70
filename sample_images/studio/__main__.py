"""`python -m sample_images.studio`: render one scene, a set, or the demo set."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from .demo import render_demo
from .request import FATES, Request
from .scene import compose
from .sets import PURPOSES
from .worker import Task, save, work, work_beside


def _poles(text: str) -> tuple[tuple[str, ...], ...]:
    """Defects per pole: "stray+dry,spike" is two poles."""
    return tuple(tuple(n for n in pole.split("+") if n) for pole in text.split(","))


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser("python -m sample_images.studio", description=__doc__)
    verbs = parser.add_subparsers(dest="verb", required=True)
    one = verbs.add_parser("one", help="one scene, with the defects named")
    one.add_argument("--seed", type=int, required=True)
    one.add_argument("--look", default="train", choices=["train", "test"])
    one.add_argument("--fate", default="usable", choices=FATES)
    one.add_argument("--size", type=int, nargs=2, default=[1024, 768], metavar=("WIDTH", "HEIGHT"))
    one.add_argument("--d-px", type=float, default=110.0)
    one.add_argument("--samples", type=int, default=48)
    one.add_argument("--poles", type=int)
    one.add_argument(
        "--defects",
        type=_poles,
        help="names joined by +, poles by a comma, such as stray+dry,spike; drawn if left out",
    )
    one.add_argument("--out", type=Path, required=True)
    many = verbs.add_parser("set", help="a set of scenes by purpose")
    many.add_argument("--purpose", required=True, choices=PURPOSES)
    many.add_argument("--first", type=int, default=0)
    many.add_argument("--count", type=int, required=True)
    many.add_argument("--jobs", type=int, default=1, help="processes beside each other")
    many.add_argument("--job", type=int, help="do this one's share of the jobs, and no other's")
    many.add_argument("--threads", type=int, default=0, help="of each job; 0: shares them all")
    many.add_argument("--minutes", type=float, default=1e6, help="stop after this long")
    many.add_argument("--gpus", type=int, default=0)
    many.add_argument("--out", type=Path, required=True)
    demo = verbs.add_parser("demo", help="the committed demo photos")
    demo.add_argument("--out", type=Path, default=Path("sample_images/demo"))
    demo.add_argument("--only", nargs="*", default=None, metavar="NAME", help="only these photos")
    return parser


def main(given: list[str] | None = None) -> int:
    """Command line; exit status 1 if a scene failed."""
    args = _parser().parse_args(given)
    if args.verb == "one":
        poles = args.poles or (len(args.defects) if args.defects else None)
        ask = Request(
            args.seed, args.look, args.fate, *args.size, args.d_px, args.samples, args.defects,
            poles,
        )  # fmt: skip
        save(compose(ask), args.out, f"{args.seed:07d}")
        return 0
    if args.verb == "demo":
        render_demo(args.out, args.only)
        return 0
    task = Task(
        args.purpose, args.first, args.count, args.out, args.job or 0, args.jobs, args.minutes,
        args.gpus, args.threads,
    )  # fmt: skip
    alone = args.jobs == 1 or args.job is not None
    return int((work(task) if alone else work_beside(task)) > 0)


if __name__ == "__main__":
    sys.exit(main())
