"""Names of a package that are imported when they are asked for: whoever needs one does not pay for the others."""

from __future__ import annotations

import sys
from collections.abc import Callable, Mapping
from importlib import import_module
from typing import Any


def late(package: str, homes: Mapping[str, str]) -> Callable[[str], Any]:
    """The `__getattr__` of a package: `homes` says in which module, relative to it, each name lies.

    Examples
    --------
    >>> ask = late("stringflux.geometry", {"mm": ".units"})
    >>> callable(ask("mm"))
    True
    """
    def named(name: str) -> Any:
        if name in homes:
            found = getattr(import_module(homes[name], package), name)
            setattr(sys.modules[package], name, found)  # a submodule of that name has just taken the name
            return found
        raise AttributeError(f"module {package!r} has no attribute {name!r}")

    return named
