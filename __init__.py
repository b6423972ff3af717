"""What a wound pickup will do, before anyone winds it: `from stringflux.cases import load_case, predict`.

The folders beside this file are the packages: geometry, solver, postprocess, cases.
"""

from __future__ import annotations

__all__ = ["__version__"]

__version__: str


def __getattr__(name: str) -> str:
    if name == "__version__":  # late: looking into the installed files takes longer than all else here
        from importlib.metadata import version

        return version("stringflux")
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
