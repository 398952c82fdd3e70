"""The command line: `inspector look` and `inspector serve`.

Exit status of look: 0 all pass, 1 any rework, 3 any retake and no rework, 2 the command or a file
could not be used. Heavy modules are imported when they are needed, so that help is quick.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Sequence
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import TYPE_CHECKING, NoReturn

from inspector import kinds
from inspector.errors import InspectorError, JobError
from inspector.model import Inspection, Job, Verdict
from inspector.wire import SIZES, check_od_mm, parse_wire
from inspector.wording import FEWEST_POLES, MOST_POLES, POLES

if TYPE_CHECKING:
    from rich.console import Console

PASS, REWORK, UNUSABLE, RETAKE = 0, 1, 2, 3


_EPILOG = """\
examples:
  inspector look joint.jpg --wire "12 AWG"
  inspector look *.jpg --poles 2 --wire-od 4.5 --alloy tin-lead --save out
  inspector look joint.heic --json

exit status: 0 all pass, 1 any rework, 3 any retake and no rework,
2 the command or a file could not be used
"""


class _Parser(argparse.ArgumentParser):
    """Says what is wrong in one sentence instead of printing the usage."""

    def error(self, message: str) -> NoReturn:
        self.exit(UNUSABLE, f"inspector: {message}. See {self.prog} --help\n")


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command line; returns the exit status."""
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")  # a terminal without a sign for plus or minus
    try:
        options = _parser().parse_args(arguments)
        return int(options.run(options))
    except InspectorError as error:
        _complain(error)
        return UNUSABLE
    except ImportError as error:  # a library of the system that OpenCV's windows want
        if "lib" not in str(error):
            raise
        sys.stderr.write(f"inspector: {error}. On Debian: apt install libgl1 libglib2.0-0.\n")
        return UNUSABLE
    except BrokenPipeError:  # the reader, such as head, had enough
        sys.stderr.close()
        return UNUSABLE
    except KeyboardInterrupt:
        return 130


def _parser() -> argparse.ArgumentParser:
    parser = _Parser(
        prog="inspector",
        description="Judges photos of soldered wire joints: pass, rework or retake, and why.",
        epilog=_EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("--version", action="version", version=f"inspector {_version()}")
    commands = parser.add_subparsers(required=True, metavar="look | serve")
    _add_look(commands)
    serve = commands.add_parser(
        "serve",
        help="answer over HTTP on this machine",
        description="Serves POST /inspections on 127.0.0.1; nothing leaves this machine.",
    )
    serve.add_argument("--port", type=_port, default=8000, help="default 8000")
    serve.set_defaults(run=_serve)
    return parser


def _add_look(commands: argparse._SubParsersAction[_Parser]) -> None:
    look = commands.add_parser(
        "look",
        help="judge photos",
        description="Judges each photo: JPEG, PNG, WebP, HEIC or AVIF, as the phone made it.",
        epilog=_EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    look.add_argument("photos", nargs="+", metavar="PHOTO", help="a photo of one or more joints")
    look.add_argument(
        "--kind", choices=tuple(kinds.registry()), default="cup", help="kind of joint, default cup"
    )
    look.add_argument("--poles", type=_poles, metavar="N", help="poles of the connector, 1 to 3")
    size = look.add_mutually_exclusive_group()
    size.add_argument(
        "--wire",
        metavar="SIZE",
        help=f'soft silicone wire, such as "12 AWG" ({SIZES[0]} to {SIZES[-1]}): gives millimetres',
    )
    size.add_argument(
        "--wire-od",
        type=_millimetres,
        metavar="MM",
        help="diameter of the wire over its insulation, mm",
    )
    look.add_argument(
        "--alloy",
        choices=("tin-lead", "lead-free", "unknown"),
        default="unknown",
        help="gloss and grain are judged only when it is known",
    )
    look.add_argument("--save", type=Path, metavar="DIR", help="save the pictures there")
    look.add_argument("--all", action="store_true", help="show every number, of fine checks too")
    look.add_argument("--json", action="store_true", help="one JSON object a line")
    look.set_defaults(run=_look)


def _look(options: argparse.Namespace) -> int:
    job = Job(options.kind, options.poles, _wire_od_mm(options), options.alloy)
    folder = _folder(options.save)
    from inspector.look import look  # noqa: PLC0415 - takes most of a second

    console = None if options.json else _console()
    statuses, taken = set(), set[str]()
    for path in options.photos:
        try:
            inspection = look(path, job)
            stem = _free_stem(Path(path).stem, taken)
            saved = _save(inspection, folder, stem) if folder else (None, None)
        except InspectorError as error:
            _complain(error)
            statuses.add(UNUSABLE)
            continue
        _show(inspection, saved, console, everything=options.all)
        code = {Verdict.PASS: PASS, Verdict.REWORK: REWORK, Verdict.RETAKE: RETAKE}
        statuses.add(code[inspection.verdict])
    return next(status for status in (UNUSABLE, REWORK, RETAKE, PASS) if status in statuses)


def _show(
    inspection: Inspection,
    saved: tuple[str | None, str | None],
    console: Console | None,
    *,
    everything: bool,
) -> None:
    if console is None:
        from inspector.report import as_json  # noqa: PLC0415 - see above

        line = as_json(inspection, overlay=saved[0], regions=saved[1])
        sys.stdout.write(json.dumps(line, ensure_ascii=False) + "\n")
        sys.stdout.flush()
    else:
        from inspector.table import print_inspection  # noqa: PLC0415 - see above

        shown = tuple(path for path in saved if path)
        print_inspection(inspection, console, shown, everything=everything)


def _console() -> Console:
    from rich.console import Console  # noqa: PLC0415 - see above

    return Console(highlight=False)


def _save(inspection: Inspection, folder: Path, stem: str) -> tuple[str, str]:
    """Save overlay and region map; returns their paths."""
    from inspector import overlay  # noqa: PLC0415 - see above
    from inspector.look import region_map  # noqa: PLC0415

    pictures = {
        folder / f"{stem}.overlay.jpg": overlay.encode_jpeg(overlay.draw(inspection)),
        folder / f"{stem}.regions.png": overlay.encode_png(region_map(inspection)),
    }
    for path, data in pictures.items():
        try:
            path.write_bytes(data)
        except OSError as error:
            raise JobError(f"{path} cannot be written: {error.strerror}.") from None
    first, second = map(str, pictures)
    return first, second


def _folder(folder: Path | None) -> Path | None:
    if folder is None:
        return None
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise JobError(
            f"The folder {folder} cannot be made: {error.strerror}.", "Name another with --save."
        ) from None
    return folder


def _free_stem(stem: str, taken: set[str]) -> str:
    """A name not yet used in this run: a second a.jpg becomes a-2."""
    free = next(s for n in range(1, 10**6) if (s := stem if n == 1 else f"{stem}-{n}") not in taken)
    taken.add(free)
    return free


def _wire_od_mm(options: argparse.Namespace) -> float | None:
    if options.wire is not None:
        return parse_wire(options.wire).overall_mm
    return None if options.wire_od is None else check_od_mm(options.wire_od)


def _poles(text: str) -> int:
    if text.isdecimal() and FEWEST_POLES <= int(text) <= MOST_POLES:
        return int(text)
    raise JobError(f"{POLES.removesuffix('.')}, not {text!r}.")


def _millimetres(text: str) -> float:
    try:
        return float(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f"{text!r} is not a number of millimetres") from None


def _port(text: str) -> int:
    if text.isdecimal() and 1 <= int(text) <= 65535:  # noqa: PLR2004 - ports are 16 bit
        return int(text)
    raise argparse.ArgumentTypeError(f"{text!r} is not a port from 1 to 65535")


def _serve(options: argparse.Namespace) -> int:
    import socket  # noqa: PLC0415 - only here

    import uvicorn  # noqa: PLC0415

    with socket.socket() as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind(("127.0.0.1", options.port))
        except OSError as error:
            raise JobError(
                f"Port {options.port} cannot be used: {error.strerror}.", "Choose another --port."
            ) from None
    uvicorn.run("api.app:app", host="127.0.0.1", port=options.port, log_level="info")
    return PASS


def _complain(error: InspectorError) -> None:
    sys.stderr.write(f"inspector: {error}\n")


def _version() -> str:
    try:
        return version("solder-joint-inspector")
    except PackageNotFoundError:
        return "not installed"
