"""The command line: `inspector look` and `inspector serve`.

Exit status of look: 0 all pass, 1 any rework, 3 any retake and no rework, 2 the command or a file
could not be used. Heavy modules are imported when they are needed, so that help is quick.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from inspector.arguments import PASS, RETAKE, REWORK, UNUSABLE, job_of, parse
from inspector.errors import InspectorError, JobError
from inspector.model import Inspection, Verdict

if TYPE_CHECKING:
    from rich.console import Console


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command line; returns the exit status."""
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")  # a terminal without a sign for plus or minus
    try:
        options = parse(arguments)
        return _serve(options) if options.command == "serve" else _look(options)
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


def _look(options: argparse.Namespace) -> int:
    job = job_of(options)
    folder = _folder(options.save)
    from inspector.look import look  # noqa: PLC0415 - takes most of a second

    console = None if options.json else _console()
    statuses, taken = set(), set[str]()
    for path in options.photos:
        try:
            inspection = look(path, job)
            saved = _save(inspection, folder, Path(path).stem, taken) if folder else (None, None)
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


def _save(inspection: Inspection, folder: Path, stem: str, taken: set[str]) -> tuple[str, str]:
    """Save overlay and region map; returns their paths.

    Nothing is overwritten: of a second photo a.jpg, in this run or an earlier one, the pictures
    are called a-2. The very same pictures are left as they are.
    """
    from inspector import overlay  # noqa: PLC0415 - see above
    from inspector.look import region_map  # noqa: PLC0415

    pictures = {
        "overlay.jpg": overlay.encode_jpeg(overlay.draw(inspection)),
        "regions.png": overlay.encode_png(region_map(inspection)),
    }
    for number in range(1, 10**6):
        name = stem if number == 1 else f"{stem}-{number}"
        paths = {folder / f"{name}.{ending}": data for ending, data in pictures.items()}
        try:
            if name not in taken and all(_is_free(path, data) for path, data in paths.items()):
                break
        except OSError as error:
            raise JobError(f"{folder} cannot be read: {error.strerror}.") from None
    taken.add(name)
    for path, data in paths.items():
        try:
            path.write_bytes(data)
        except OSError as error:
            raise JobError(f"{path} cannot be written: {error.strerror}.") from None
    first, second = map(str, paths)
    return first, second


def _is_free(path: Path, data: bytes) -> bool:
    """Whether nothing would be lost by writing `data` there."""
    return not path.exists() or (path.is_file() and path.read_bytes() == data)


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
