"""`make bench`: time from a 12-megapixel JPEG to the verdict, warm, and the peak memory.

Every run is of the same photo: one of the demo photos (or PHOTO), enlarged or shrunk to 12
megapixels and saved as a phone would. The process is bound to two cores where the system allows.
Prints a table and ends with status 1 if a target of docs/benchmarks.md is missed.
"""

from __future__ import annotations

import argparse
import io
import os
import resource
import statistics
import sys
import time
from pathlib import Path

TARGET_S, TARGET_MB = 1.0, 600.0
_PIXELS = 12_000_000
_DEMO = Path("sample_images/demo")


def main() -> int:
    """Run the benchmark; returns 0 if both targets are met."""
    parser = argparse.ArgumentParser("python -m tools.bench", description=__doc__)
    parser.add_argument("photo", nargs="?", type=Path, help="default: the first demo photo")
    parser.add_argument("--runs", type=int, default=9)
    parser.add_argument("--wire-od", type=float, default=4.5)
    options = parser.parse_args()
    photo = options.photo or next(iter(sorted(_DEMO.glob("*.jpg"))), None)
    if photo is None:
        sys.stderr.write(f"There is no photo in {_DEMO}; name one.\n")
        return 2
    if hasattr(os, "sched_setaffinity"):
        os.sched_setaffinity(0, sorted(os.sched_getaffinity(0))[:2])
    data = _twelve_megapixels(photo)  # in a process of its own, so that its memory is not counted

    from inspector import Job, look  # noqa: PLC0415 - after the cores are bound

    job = Job(wire_od_mm=options.wire_od)
    began = time.perf_counter()
    first = look(data, job)
    cold = time.perf_counter() - began
    seconds = []
    for _ in range(options.runs):
        began = time.perf_counter()
        look(data, job)
        seconds.append(time.perf_counter() - began)
    peak_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    median, worst = statistics.median(seconds), max(seconds)
    print(f"{photo}: {len(data) / 1e6:.1f} MB, {first.photo.rgb.shape[1]} x", end=" ")
    print(f"{first.photo.rgb.shape[0]}, {len(first.results)} joints, {first.verdict.value}")
    print(f"first look  {cold:6.2f} s (loads the network)")
    print(f"warm        {median:6.2f} s median, {worst:.2f} s worst of {options.runs}")
    print(f"peak memory {peak_mb:6.0f} MB")
    met = median <= TARGET_S and peak_mb <= TARGET_MB
    print(f"targets: {TARGET_S} s and {TARGET_MB:.0f} MB: {'met' if met else 'MISSED'}")
    return 0 if met else 1


def _twelve_megapixels(path: Path) -> bytes:
    import multiprocessing  # noqa: PLC0415 - only here

    with multiprocessing.get_context("spawn").Pool(1) as pool:
        return pool.apply(_resized, (str(path),))


def _resized(path: str) -> bytes:
    from PIL import Image, ImageOps  # noqa: PLC0415 - only in the process of its own

    with Image.open(path) as opened:
        picture = ImageOps.exif_transpose(opened).convert("RGB")
    by = (_PIXELS / (picture.width * picture.height)) ** 0.5
    size = (round(picture.width * by), round(picture.height * by))
    buffer = io.BytesIO()
    picture.resize(size, Image.Resampling.BICUBIC).save(buffer, "JPEG", quality=92)
    return buffer.getvalue()


if __name__ == "__main__":
    sys.exit(main())
