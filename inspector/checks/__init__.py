"""The checks: one thing looked for in each file.

A module of this package that does not start with an underscore is a check. It defines `CHECK`;
its docstring is the check's page in the workmanship guide. No check imports another.
"""

from __future__ import annotations

import importlib
import pkgutil
from difflib import get_close_matches
from functools import cache
from types import MappingProxyType
from typing import TYPE_CHECKING

from inspector.errors import SettingsError
from inspector.model import Check

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping


@cache
def registry() -> Mapping[str, Check]:
    """All checks by name, sorted by name.

    Raises TypeError when a module of the package has no `CHECK`, and ValueError when its name
    and its file's name differ, since the guide and the overlay look checks up by name.
    """
    found: dict[str, Check] = {}
    for info in sorted(pkgutil.iter_modules(__path__), key=lambda item: item.name):
        if info.name.startswith("_"):
            continue
        module = importlib.import_module(f"{__name__}.{info.name}")
        check = getattr(module, "CHECK", None)
        if not isinstance(check, Check):
            message = f"inspector/checks/{info.name}.py defines no CHECK"
            raise TypeError(message)
        if check.name != info.name.replace("_", "-"):
            message = f"inspector/checks/{info.name}.py calls its check {check.name!r}"
            raise ValueError(message)
        found[check.name] = check
    return MappingProxyType(dict(sorted(found.items())))


def check_limits(names: Iterable[str]) -> None:
    """Raise SettingsError for a limit, "check.measurement", that no check has.

    A mistyped one would leave the usual limit in force without a word.
    """
    known = {
        f"{check.name}.{limit.name}" for check in registry().values() for limit in check.limits
    }
    for name in names:
        if name not in known:
            near = get_close_matches(name, sorted(known), n=1)
            advice = (
                f"Did you mean {near[0]}?" if near else f"Use one of: {', '.join(sorted(known))}."
            )
            raise SettingsError(f"No check has a limit named {name}.", advice)
