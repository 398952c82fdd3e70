"""`python -m tools.oracle`: make label-only scenes, and look at scenes with their truth.

The results are those of `python -m tools.accuracy look`; `python -m tools.accuracy tune` reports
on them.
"""

from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path

from tools.accuracy import looks

from .patches import look_at_all


def main(given: list[str] | None = None) -> int:
    """Command line."""
    parser = argparse.ArgumentParser("python -m tools.oracle", description=__doc__)
    verbs = parser.add_subparsers(dest="verb", required=True)
    make = verbs.add_parser("make", help="label-only scenes of the tuning set")
    make.add_argument("--first", type=int, default=0)
    make.add_argument("--count", type=int, required=True)
    make.add_argument("--out", type=Path, required=True)
    look = verbs.add_parser("look", help="look at scenes, the truth in the network's place")
    look.add_argument("--scenes", type=Path, required=True)
    look.add_argument("--out", type=Path, required=True)
    look.add_argument("--jobs", type=int, default=1)
    look.add_argument(
        "--proven", action="store_true", help='count passes as if "none seen" were proven'
    )
    look.add_argument("--only", nargs="*", help="names of scenes")
    args = parser.parse_args(given)
    if args.verb == "make":
        from .scenes import make as made  # noqa: PLC0415 - needs the studio

        print(sum(1 for _ in made(args.first, args.count, args.out)), "scenes in", args.out)
        return 0
    photos = [p for p in looks.scenes(args.scenes) if not args.only or p.stem in args.only]
    if not photos:
        sys.stderr.write(f"{args.scenes} holds no photo NAME.jpg with its NAME.json.\n")
        return 2
    with args.out.open("w", encoding="utf-8") as out:
        for record in look_at_all(photos, args.jobs, proven=args.proven):
            out.write(json.dumps(record) + "\n")
            if record["failed"]:
                sys.stderr.write(f"{record['scene']}: {record['failed']}\n")
    return 0


if __name__ == "__main__":
    sys.exit(main())
