"""The designs of a study: how variations combine, and the complete case file of each design.

Nothing is built before it is asked for: designs are counted first, and made one by one from their number.
"""

from __future__ import annotations

import copy
import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any, Literal, overload

from stringflux.geometry.arrays import Array
from stringflux.geometry.errors import CaseError

from ..engine.task import Task
from .fields import CaseField
from .variations import Value, Variation

Combine = Literal["grid", "paired", "sample"]


@dataclass(frozen=True, kw_only=True)
class Plan(Sequence[tuple[Value, ...]]):
    """The designs of a study: for each the values of the variations, in their order.

    Attributes
    ----------
    variations : tuple of Variation
    combine : {"grid", "paired", "sample"}
        All combinations, the last field changing fastest; the first values of all, the second ones …; or points of a
        scrambled Sobol sequence, which fill the space evenly.
    samples : int
        Designs of a sample.
    seed : int
        Of its scrambling.
    kept : tuple of int or None
        Numbers of the designs that are left of them; None for all.
    """

    variations: tuple[Variation, ...]
    combine: Combine = "grid"
    samples: int = 0
    seed: int = 1
    kept: tuple[int, ...] | None = None

    def __post_init__(self) -> None:
        if not self.variations:
            raise CaseError("nothing is varied; write --vary FIELD=VALUE,VALUE, for example --vary "
                            "strings.gap=1.5mm:3.5mm:9")
        _apart([v.field for v in self.variations])
        if self.combine == "sample":
            if self.samples < 1:
                raise CaseError(f"--sample: received {self.samples}; write how many designs, from 1 on")
            choices = math.prod(v.count for v in self.variations)
            if 0 < choices < self.samples:
                raise CaseError(f"--sample: received {self.samples}, but there are only {choices} designs in all; "
                                "leave it out, or write a range FROM:TO without a number of values")
            return
        for v in self.variations:
            if not v.count:
                raise CaseError(f"{v.field.path}: the range says no number of values; write FROM:TO:N, or take a "
                                "sample by --sample")
        counts = {v.field.path: v.count for v in self.variations}
        if self.combine == "paired" and len(set(counts.values())) > 1:
            told = ", ".join(f"{path} {count}" for path, count in counts.items())
            raise CaseError(f"--paired: the numbers of values differ ({told}); give all the same number")

    def __len__(self) -> int:
        return self._every if self.kept is None else len(self.kept)

    @cached_property
    def _every(self) -> int:
        """How many there are before any is left out."""
        if self.combine == "sample":
            return self.samples
        counts = [v.count for v in self.variations]
        return counts[0] if self.combine == "paired" else math.prod(counts)

    @overload
    def __getitem__(self, index: int) -> tuple[Value, ...]: ...
    @overload
    def __getitem__(self, index: slice) -> list[tuple[Value, ...]]: ...
    def __getitem__(self, index: int | slice) -> tuple[Value, ...] | list[tuple[Value, ...]]:
        if isinstance(index, slice):
            return [self[i] for i in range(*index.indices(len(self)))]
        if not 0 <= index < len(self):
            raise IndexError(index)
        index = index if self.kept is None else self.kept[index]
        if self.combine == "paired":
            return tuple(v.at(index) for v in self.variations)
        if self.combine == "sample":
            return tuple(v.drawn(float(u)) for v, u in zip(self.variations, self._points[index], strict=True))
        found: list[Value] = []
        for v in reversed(self.variations):
            index, own = divmod(index, v.count)
            found.append(v.at(own))
        return tuple(reversed(found))

    @cached_property
    def _points(self) -> Array:
        """Points (samples, variations) in the unit cube."""
        from scipy.stats import qmc

        sequence = qmc.Sobol(len(self.variations), rng=self.seed)
        # a power of two keeps the sequence balanced; the first of them are as even as they can be
        return sequence.random_base2(max(0, math.ceil(math.log2(self.samples))))[: self.samples]


def _apart(fields: Sequence[CaseField]) -> None:
    """Refuse two fields of which one would overwrite the other."""
    seen: dict[tuple[str, ...], str] = {}
    for field in fields:
        for place in field.places:
            for other, path in seen.items():
                if other[: len(place.steps)] == place.steps[: len(other)]:
                    raise CaseError(f"{field.path}: it is the same place of the file as {path}; vary it once")
        seen.update({place.steps: field.path for place in field.places})


@dataclass(frozen=True, kw_only=True)
class Tasks(Sequence[Task]):
    """The designs of a plan as complete case files, made when they are asked for.

    Attributes
    ----------
    document : mapping
        Content of the case's file.
    plan : Plan
    quality : str
    want : tuple of str
        Names of the figures to compute.
    sought : str
        As of a task.
    """

    document: Mapping[str, Any]
    plan: Plan
    quality: str = "normal"
    want: tuple[str, ...] = ()
    sought: str = ""

    def __len__(self) -> int:
        return len(self.plan)

    @overload
    def __getitem__(self, index: int) -> Task: ...
    @overload
    def __getitem__(self, index: slice) -> list[Task]: ...
    def __getitem__(self, index: int | slice) -> Task | list[Task]:
        if isinstance(index, slice):
            return [self[i] for i in range(*index.indices(len(self)))]
        document = copy.deepcopy(dict(self.document))
        for v, value in zip(self.plan.variations, self.plan[index], strict=True):
            v.field.put(document, value.content)
        return Task(number=index, document=document, quality=self.quality, want=self.want,
                    sought=self.sought)

    def __iter__(self) -> Iterator[Task]:
        return (self[i] for i in range(len(self)))
