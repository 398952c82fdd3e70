"""Judges phone photos of soldered wire joints: pass, rework or retake.

`look` is the one public call, `Job` says what the photo shows, `Settings` are the workshop's own.
"""

from inspector.look import look
from inspector.model import Inspection, Job
from inspector.settings import Settings

__all__ = ["Inspection", "Job", "Settings", "look"]
