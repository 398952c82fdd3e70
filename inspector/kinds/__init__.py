"""The kinds of joint: which checks apply to each, and which must be seen before it may pass.

A module of this package that does not start with an underscore is a kind and defines `KIND`.
"""

from __future__ import annotations

import importlib
import pkgutil
from functools import cache
from types import MappingProxyType
from typing import TYPE_CHECKING

from inspector.kinds._kind import Kind

if TYPE_CHECKING:
    from collections.abc import Mapping

__all__ = ["Kind", "registry"]


@cache
def registry() -> Mapping[str, Kind]:
    """All kinds by name, sorted by name; raises TypeError for a module without `KIND`."""
    found: dict[str, Kind] = {}
    for info in sorted(pkgutil.iter_modules(__path__), key=lambda item: item.name):
        if info.name.startswith("_"):
            continue
        module = importlib.import_module(f"{__name__}.{info.name}")
        kind = getattr(module, "KIND", None)
        if not isinstance(kind, Kind):
            message = f"inspector/kinds/{info.name}.py defines no KIND"
            raise TypeError(message)
        found[kind.name] = kind
    return MappingProxyType(dict(sorted(found.items())))
