"""`python -m tools.accuracy`: look at scenes, then report on the results."""

from __future__ import annotations

import argparse
import json
import sys
import time
from pathlib import Path

from .records import Record, ResultsError, read_results

CALIBRATION = Path("inspector/calibration.json")


def main(given: list[str] | None = None) -> int:
    """Command line; 2 for files that cannot be used."""
    parser = argparse.ArgumentParser("python -m tools.accuracy", description=__doc__)
    verbs = parser.add_subparsers(dest="verb", required=True)
    look = verbs.add_parser("look", help="run the inspector on a folder of scenes")
    look.add_argument("--scenes", type=Path, required=True)
    look.add_argument("--out", type=Path, required=True)
    look.add_argument("--jobs", type=int, default=1, help="processes, one thread each")
    look.add_argument("--network", type=Path, help="another network than the committed one")
    look.add_argument("--for-fit", action="store_true", help="calibration scenes, for `fit`")
    look.add_argument("--limit", type=int, help="only the first so many")
    tune = verbs.add_parser("tune", help="a development report, as text")
    tune.add_argument("results", type=Path)
    tune.add_argument("--worst", type=int, default=40, help="cases listed of each sort")
    fit = verbs.add_parser("fit", help="make inspector/calibration.json from calibration scenes")
    fit.add_argument("results", type=Path)
    fit.add_argument("--out", type=Path, default=CALIBRATION)
    anew = verbs.add_parser("rejudge", help="results of look --for-fit under calibrations")
    anew.add_argument("results", type=Path)
    anew.add_argument("--calibration", type=Path, default=CALIBRATION)
    anew.add_argument("--out", type=Path, required=True)
    table = verbs.add_parser("table", help="the reported tables of the test set, as Markdown")
    table.add_argument("results", type=Path)
    worst = verbs.add_parser("worst", help="draw the photos whose regions are most wrong")
    worst.add_argument("results", type=Path)
    worst.add_argument("--scenes", type=Path, required=True, help="the folder looked at")
    worst.add_argument("--out", type=Path, required=True, help="a JPEG")
    worst.add_argument("--count", type=int, default=20)
    args = parser.parse_args(given)
    try:
        return _verb(args)
    except ResultsError as error:
        sys.stderr.write(f"{error}\n")
        return 2


def _verb(args: argparse.Namespace) -> int:
    if args.verb == "look":
        return _look(args)
    records = read_results(args.results)
    if args.verb == "tune":
        from .tune import report  # noqa: PLC0415 - each verb loads what it needs

        print(report(records, args.worst))
    elif args.verb == "worst":
        from .worst import draw  # noqa: PLC0415

        print("\n".join(draw(records, args.scenes, args.out, args.count)))
    elif args.verb == "table":
        from .table import tables  # noqa: PLC0415

        print(tables(records))
    elif args.verb == "rejudge":
        _rejudge(args, records)
    else:
        from .fit import calibrate  # noqa: PLC0415

        text, notes = calibrate(records)
        args.out.write_text(text, "utf-8")
        print("\n".join(notes))
    return 0


def _rejudge(args: argparse.Namespace, records: list[Record]) -> None:
    from inspector.settings import Settings  # noqa: PLC0415
    from inspector.uncertainty import read_calibrations  # noqa: PLC0415

    from .rejudge import judged_anew  # noqa: PLC0415

    if args.out.resolve() == args.results.resolve():
        raise ResultsError("Name another file for --out: what was looked at is kept.")
    try:
        table = read_calibrations(args.calibration.read_text("utf-8"))
    except OSError as error:
        why = f"The file {args.calibration} cannot be read ({error.strerror})."
        raise ResultsError(why) from None
    except (ValueError, TypeError, AttributeError) as error:
        why = f"The file {args.calibration} holds no calibrations ({error}); make one with fit."
        raise ResultsError(why) from None
    if not table:
        raise ResultsError(f"The file {args.calibration} holds no calibrations; make one with fit.")
    lines = []
    for record in records:
        try:
            lines.append(json.dumps(judged_anew(record, table, Settings())) + "\n")
        except (KeyError, TypeError, ValueError):
            why = f"Scene {record.get('scene')} cannot be judged anew by this version; look again."
            raise ResultsError(why) from None
    try:
        args.out.parent.mkdir(parents=True, exist_ok=True)
        args.out.write_text("".join(lines), "utf-8")
    except OSError as error:
        raise ResultsError(f"{args.out} cannot be written ({error.strerror}).") from None


def _look(args: argparse.Namespace) -> int:
    from .looks import look_at_all, scenes  # noqa: PLC0415

    photos = scenes(args.scenes)[: args.limit]
    if not photos:
        raise ResultsError(f"{args.scenes} holds no photo NAME.jpg with its NAME.json.")
    failed, began = 0, time.perf_counter()
    network = args.network.resolve() if args.network else None
    args.out.parent.mkdir(parents=True, exist_ok=True)
    looked = look_at_all(photos, args.jobs, network, for_fit=args.for_fit)
    with args.out.open("w", encoding="utf-8") as out:
        for count, record in enumerate(looked, 1):
            out.write(json.dumps(record) + "\n")
            out.flush()
            if record["failed"]:
                failed += 1
                sys.stderr.write(f"{record['scene']}: {record['failed']}\n")
            if count % 50 == 0:
                sys.stderr.write(f"{count} of {len(photos)}, {time.perf_counter() - began:.0f} s\n")
    print(f"{len(photos)} photos, {failed} failed, {time.perf_counter() - began:.0f} s: {args.out}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
