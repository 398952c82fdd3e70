"""Which variant of Mitsuba runs here, and on how many threads."""

from __future__ import annotations

import os
from functools import lru_cache
from typing import Any

Native = Any  # an object of the renderer, which publishes no types


@lru_cache(maxsize=1)
def mitsuba() -> Native:
    """Mitsuba with the best variant that runs here; STUDIO_VARIANT overrides."""
    import mitsuba as mi  # noqa: PLC0415 - an extra

    wanted = os.environ.get("STUDIO_VARIANT")
    for name in [wanted] if wanted else ["llvm_ad_rgb", "scalar_rgb"]:
        if name == "llvm_ad_rgb" and not wanted and "DRJIT_LIBLLVM_PATH" not in os.environ:
            continue
        mi.set_variant(name)
        mi.set_log_level(mi.LogLevel.Error)
        return mi
    return mi


def use_threads(count: int) -> None:
    """Limit the renderer to this many threads, for several jobs on one machine."""
    mitsuba()
    import drjit as dr  # noqa: PLC0415 - an extra

    dr.set_thread_count(count)
