"""What the command line may say: options and their types, the job, the exit statuses."""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import NoReturn

from inspector import kinds
from inspector.errors import JobError
from inspector.model import Job
from inspector.wire import SIZES, check_od_mm, parse_wire
from inspector.wording import FEWEST_POLES, MOST_POLES, POLES

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


def parse(arguments: Sequence[str] | None = None) -> argparse.Namespace:
    """The options given, `command` among them: look or serve. None: those of this process.

    Ends the process for --help and --version, and with UNUSABLE for what cannot be parsed.
    """
    return _parser().parse_args(arguments)


def job_of(options: argparse.Namespace) -> Job:
    """What the options of look say about the photos; WireError for a wire that cannot be."""
    return Job(options.kind, options.poles, _wire_od_mm(options), options.alloy)


def _parser() -> argparse.ArgumentParser:
    parser = _Parser(
        prog="inspector",
        description="Judges photos of soldered wire joints: pass, rework or retake, and why.",
        epilog=_EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("--version", action="version", version=f"inspector {_version()}")
    commands = parser.add_subparsers(dest="command", required=True, metavar="look | serve")
    _add_look(commands)
    serve = commands.add_parser(
        "serve",
        help="answer over HTTP on this machine",
        description="Serves POST /inspections on 127.0.0.1; nothing leaves this machine.",
    )
    serve.add_argument("--port", type=_port, default=8000, help="default 8000")
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


def _wire_od_mm(options: argparse.Namespace) -> float | None:
    if options.wire is not None:
        return parse_wire(options.wire).overall_mm
    return None if options.wire_od is None else check_od_mm(options.wire_od)


def _poles(text: str) -> int:
    if text.isdecimal() and FEWEST_POLES <= int(text) <= MOST_POLES:
        return int(text)
    raise JobError(f"{POLES.removesuffix('.')}, not {text!r}.")


def _millimetres(text: str) -> float:
    """Millimetres, the unit said or not; "4,5" is 4.5, since nobody means thousands."""
    try:
        return float(text.strip().removesuffix("mm").replace(",", "."))
    except ValueError:
        raise argparse.ArgumentTypeError(f"{text!r} is not a number of mm, such as 4.5") from None


def _port(text: str) -> int:
    if text.isdecimal() and 1 <= int(text) <= 65535:  # noqa: PLR2004 - ports are 16 bit
        return int(text)
    raise argparse.ArgumentTypeError(f"{text!r} is not a port from 1 to 65535")


def _version() -> str:
    try:
        return version("solder-joint-inspector")
    except PackageNotFoundError:
        return "not installed"
