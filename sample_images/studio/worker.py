"""Renders the scenes of a set: one worker, or several beside each other as processes."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import time
import traceback
from dataclasses import dataclass
from pathlib import Path

import cv2

from .scene import Scene, compose
from .sets import request
from .variant import mitsuba, use_threads

ROOT = Path(__file__).resolve().parents[2]
ONE_THREAD = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS")


@dataclass(frozen=True)
class Task:
    """Every `jobs`-th scene from `first` + `job`, `count` in all, until the clock says stop."""

    purpose: str
    first: int
    count: int
    out: Path
    job: int = 0
    jobs: int = 1
    minutes: float = 1e6
    gpus: int = 0
    threads: int = 0  # of each worker's renderer; 0: all processors, shared by the jobs


def save(scene: Scene, folder: Path, name: str, *, marks: bool = True) -> None:
    """Write the files of a scene; the JSON comes last, so that a reader may wait for it."""
    folder.mkdir(parents=True, exist_ok=True)
    pieces = {".jpg": scene.jpeg, ".regions.png": _png(scene.label)}
    if marks:
        pieces[".marks.png"] = _png(scene.marks)
    pieces[".json"] = json.dumps(scene.truth).encode()
    for ending, data in pieces.items():
        part = folder / f".{name}{ending}.part"
        part.write_bytes(data)
        part.rename(folder / f"{name}{ending}")


def _png(picture: cv2.typing.MatLike) -> bytes:
    return cv2.imencode(".png", picture, [cv2.IMWRITE_PNG_COMPRESSION, 6])[1].tobytes()


def work(task: Task) -> int:
    """Render this worker's scenes that are not there yet; how many failed."""
    until = time.time() + 60 * task.minutes
    cv2.setNumThreads(1)
    mitsuba()
    if task.threads:
        use_threads(task.threads)
    failed = 0
    for number in range(task.first + task.job, task.first + task.count, task.jobs):
        if time.time() > until:
            break
        ask = request(task.purpose, number)
        name = f"{ask.seed:07d}"
        if (task.out / f"{name}.json").exists():
            continue
        try:
            save(compose(ask), task.out, name)
        except Exception:  # noqa: BLE001 - one bad scene must not end the set; it is reported
            failed += 1
            sys.stderr.write(f"scene {name} failed:\n{traceback.format_exc()}\n")
    return failed


def _environment(task: Task, job: int) -> dict[str, str]:
    """A worker's environment: one thread for arithmetic, a graphics card of its own."""
    env = dict(os.environ)
    env |= dict.fromkeys(ONE_THREAD, "1")
    if task.gpus:
        env["CUDA_VISIBLE_DEVICES"] = str(job % task.gpus)
    return env


def work_beside(task: Task) -> int:
    """Run `jobs` workers as processes of their own; how many of them did not end well."""
    threads = task.threads or max(1, (os.cpu_count() or 1) // task.jobs)
    command = [
        sys.executable, "-m", "sample_images.studio", "set",
        "--purpose", task.purpose, "--first", str(task.first), "--count", str(task.count),
        "--minutes", str(task.minutes), "--threads", str(threads), "--jobs", str(task.jobs),
        "--out", str(task.out.resolve()),
    ]  # fmt: skip
    workers = [
        subprocess.Popen(  # noqa: S603 - this program itself
            [*command, "--job", str(k)], cwd=ROOT, env=_environment(task, k)
        )
        for k in range(task.jobs)
    ]
    try:
        return sum(w.wait() != 0 for w in workers)
    except BaseException:
        for w in workers:
            w.terminate()
        raise
