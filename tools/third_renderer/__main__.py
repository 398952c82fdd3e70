"""`python -m tools.third_renderer`: render photos by their numbers, with their truth.

Photos that are there already are left alone, so that the same command goes on with a set.
"""

from __future__ import annotations

import argparse
import sys
import time
import traceback
from pathlib import Path

from .plan import FRESH


def _at_least(least: int, given: str) -> int:
    try:
        value = int(given)
    except ValueError:
        raise argparse.ArgumentTypeError(f"{given!r} is no whole number") from None
    if value < least:
        raise argparse.ArgumentTypeError(f"{value} is too small; the least is {least}")
    return value


def _number(given: str) -> int:
    return _at_least(0, given)


def _count(given: str) -> int:
    return _at_least(1, given)


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser("python -m tools.third_renderer", description=__doc__)
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument(
        "--first", type=_number, default=FRESH, help="the first number; default: %(default)s"
    )
    parser.add_argument("--count", type=_count, default=57)
    parser.add_argument("--only", type=_number, nargs="+", metavar="NUMBER", help="these instead")
    parser.add_argument("--samples", type=_count, default=14, help="a pixel, round the joints")
    parser.add_argument("--threads", type=_count, default=2)
    return parser


def main(given: list[str] | None = None) -> int:
    """Command line; exit status 1 if a photo failed, 2 without Blender or for bad arguments."""
    args = _parser().parse_args(given)
    try:
        from .photo import make  # noqa: PLC0415 - needs Blender, and --help does not
    except ImportError as error:
        if error.name != "bpy":
            raise
        sys.stderr.write(f"{error}\n")
        return 2
    args.out.mkdir(parents=True, exist_ok=True)
    failed = 0
    for number in args.only or range(args.first, args.first + args.count):
        if (args.out / f"{number:03d}.json").exists():
            continue
        start = time.monotonic()
        try:
            make(number, args.out, args.samples, args.threads)
        except Exception:  # noqa: BLE001 - one photo less must not cost the others
            traceback.print_exc()
            failed += 1
            continue
        print(f"{number:03d}: {time.monotonic() - start:.1f} s", flush=True)
    return int(failed > 0)


if __name__ == "__main__":
    sys.exit(main())
