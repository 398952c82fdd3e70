"""The one public call: a photo in, an Inspection out.

>>> from inspector import Job, look
>>> inspection = look("joint.jpg", Job(kind="cup", wire_od_mm=4.5))  # doctest: +SKIP
>>> inspection.verdict  # doctest: +SKIP
<Verdict.REWORK: 'rework'>
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from inspector import kinds
from inspector.errors import JobError
from inspector.model import Inspection, Job, Photo
from inspector.settings import Settings
from inspector.wire import check_od_mm
from inspector.wording import FEWEST_POLES, MOST_POLES, POLES

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

_JOB, _SETTINGS = Job(), Settings()


def look(
    photo: Photo | bytes | str | Path, job: Job = _JOB, settings: Settings = _SETTINGS
) -> Inspection:
    """Judge one photo: a path, a file's bytes, or a Photo.

    job says what the photo shows; with wire_od_mm, sizes are known in millimetres. Raises
    PhotoError when the photo cannot be used, JobError or WireError when the job makes no sense;
    a photo that can be read but not judged is no error but the verdict retake.
    """
    check_job(job)
    from inspector import stages  # noqa: PLC0415 - loads the network's runtime: most of a second

    return stages.run(photo, job, settings)


def region_map(inspection: Inspection) -> NDArray[np.uint8]:
    """What every pixel is, (H, W) of Region, at the upright photo's size."""
    from inspector import stages  # noqa: PLC0415 - see above

    return stages.region_map(inspection)


def check_job(job: Job) -> None:
    """Raise JobError or WireError, one sentence each, for a job that makes no sense."""
    known = tuple(kinds.registry())
    if job.kind not in known:
        raise JobError(f"The kind {job.kind!r} is not known.", f"Use one of: {', '.join(known)}.")
    if job.poles is not None and not FEWEST_POLES <= job.poles <= MOST_POLES:
        raise JobError(POLES, "Leave it out if it is not known.")
    if job.wire_od_mm is not None:
        check_od_mm(job.wire_od_mm)
