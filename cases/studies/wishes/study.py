"""Designs that meet wishes, looked for: `stringflux design` without a word."""

from __future__ import annotations

import os
from collections.abc import Mapping
from typing import Any

from ...kept.store import default_store
from ..designs.run import HERE, Progress, Running, run_designs, silent
from .plan import DesignRequest, planned
from .result import FoundDesigns


def design(which: str | os.PathLike[str], asked: DesignRequest, *, changes: Mapping[str, Any] | None = None,
           quality: str = "normal", running: Running = HERE, progress: Progress = silent) -> FoundDesigns:
    """Look for designs that meet wishes, by computing every one that there is to choose from.

    Parameters
    ----------
    which : str or path
        A case file, or the name of a shipped case.
    asked : DesignRequest
        Where it varies no turns and one of its wishes is a value of peak, level, resistance or inductance, turns are
        looked for by the first such wish in every design, all coils in proportion.
    changes : mapping of str to object, optional
        As of :func:`stringflux.cases.load_case`.
    quality : {"draft", "normal", "fine"}
    running : Running
        Where they are computed; here and now if left out.
    progress : callable
        Told of designs finished, designs in all, and how many of the finished ones failed.

    Returns
    -------
    FoundDesigns

    Raises
    ------
    CaseError
        When something is wanted that the case does not have, or none of the designs is possible.

    Examples
    --------
    >>> from stringflux.cases import DesignRequest, design
    >>> wires = {"coil.wire": ["42 AWG", "43 AWG"]}
    >>> found = design("bench-single", DesignRequest(want=("resistance=1kohm", "turns<5000"), vary=wires),
    ...                quality="draft")
    >>> found.met, [int(n) for n in found.every.values("turns")]  # thinner wire takes fewer
    ((1,), [5817, 4613])
    """
    plan = planned(which, asked, changes=changes, quality=quality,
                   keep=None if running.folder is None else default_store())
    tasks = plan.comparison.tasks
    outcomes = run_designs(tasks, running, kind="design", about=plan.comparison.about, progress=progress)
    return FoundDesigns(asked=plan, outcomes=tuple(outcomes))
