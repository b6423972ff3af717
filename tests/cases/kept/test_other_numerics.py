"""What is kept under other numerical settings: never what was kept under the shipped ones, and all that is equal."""

from __future__ import annotations

from dataclasses import replace

import pytest

from rigs.cases.small_build import task as of_build
from rigs.cases.small_case import task as of_row
from stringflux.cases.kept.store import Store
from stringflux.cases.solved.numerics import SHIPPED, Numerics
from stringflux.cases.studies.designs.evaluate import evaluate
from stringflux.cases.studies.engine.task import Task
from stringflux.geometry.mesh.pole import Quality
from stringflux.geometry.mesh.solid_quality import SOLID_QUALITIES
from stringflux.postprocess.string.numerics import StringNumerics
from stringflux.solver.eddy.numerics import EddyNumerics
from stringflux.solver.row.numerics import RowNumerics

WANT = ("sensitivity", "pull", "output", "inductance", "face_field", "resonance")
STRINGS = {"rest", "pull", "rms"}
FEW = replace(SHIPPED, frequencies=(20.0, 2e3, 20e3))
"""Of the frequencies three: what counts here is which are found."""
SHEET = {"shape": "cylinder", "name": "foil", "material": "brass", "diameter": "16 mm", "length": "0.3 mm",
         "top": "-16.2 mm"}
ALL_OF_BUILD = STRINGS | {"solved build", "build", "under", "eddies", "faces"}


def found(design: Task, store: Store, numerics: Numerics) -> tuple[dict[str, float], set[str]]:
    """The values, and the kinds of stages that were made for them."""
    before = store.counts.copy()
    outcome = evaluate(design, store, numerics)
    assert outcome.failure == ""
    return dict(outcome.values), {kind for kind, what in store.counts - before if what == "made"}


def with_sheet() -> Task:
    plain = of_build(want=WANT)
    return replace(plain, document=plain.document | {"body": [*plain.document["body"], SHEET]})


@pytest.fixture(scope="module")
def kept() -> tuple[Store, dict[str, float]]:
    """Everything of the build under three frequencies."""
    store = Store(None, code="1")
    values, made = found(with_sheet(), store, FEW)
    assert made == ALL_OF_BUILD
    return store, values


@pytest.mark.slow
@pytest.mark.parametrize(("changes", "made", "moved"), [
    ({"string": StringNumerics(passes=1)}, STRINGS, "sensitivity"),
    ({"string": StringNumerics(refine=0.5)}, STRINGS, "pull"),
    ({"string": StringNumerics(reach=40e-3)}, STRINGS | {"under"}, "output"),
    ({"row": RowNumerics(answer_orders=1)}, STRINGS | {"under"}, "sensitivity"),
    ({"mesh": Quality(divisions=2.0, growth=0.5, far=5.0)}, STRINGS | {"under"}, "sensitivity"),
    ({"eddies": EddyNumerics(patterns=1)}, {"eddies"}, "resonance"),
    ({"frequencies": (20.0, 1e3, 20e3)}, {"eddies"}, "resonance"),
    ({"solid": replace(SOLID_QUALITIES["draft"], growth=0.5)}, ALL_OF_BUILD, "inductance"),
    ({"band": (20.0, 1e3)}, set(), ""),  # no figure of a design goes through it
], ids=lambda v: "-".join(v) if isinstance(v, dict) else "")
def test_a_build_under_another_setting_takes_nothing_that_hangs_on_it(
        changes: dict[str, object], made: set[str], moved: str, kept: tuple[Store, dict[str, float]]) -> None:
    store, shipped = kept
    numerics = replace(FEW, **changes)  # type: ignore[arg-type]
    other, anew = found(with_sheet(), store, numerics)
    assert anew == made
    assert {name for name, value in other.items() if value != shipped[name]} >= ({moved} - {""})
    assert found(with_sheet(), store, replace(numerics)) == (other, set())  # an equal record shares
    assert found(with_sheet(), store, FEW) == (shipped, set())


@pytest.fixture(scope="module")
def kept_row() -> tuple[Store, dict[str, float]]:
    store = Store(None, code="1")
    return store, found(of_row(want=WANT), store, FEW)[0]


@pytest.mark.slow
@pytest.mark.parametrize(("changes", "made", "moved"), [
    ({"string": StringNumerics(passes=1)}, STRINGS, "sensitivity"),
    ({"string": StringNumerics(refine=0.5)}, STRINGS, "output"),
    ({"row": RowNumerics(tolerance=1e-2)}, STRINGS | {"row", "solved row", "faces", "eddies", "rings", "table",
                                                       "answer", "link", "drive"}, "sensitivity"),
    ({"eddies": EddyNumerics(patterns=1)}, set(), ""),
    ({"frequencies": (20.0, 1e3, 20e3)}, {"eddies"}, "resonance"),
    ({"solid": SOLID_QUALITIES["fine"]}, set(), ""),
], ids=lambda v: "-".join(v) if isinstance(v, dict) else "")
def test_strings_over_a_row_likewise(changes: dict[str, object], made: set[str], moved: str,
                                     kept_row: tuple[Store, dict[str, float]]) -> None:
    (store, shipped), design = kept_row, of_row(want=WANT)
    other, anew = found(design, store, replace(FEW, **changes))  # type: ignore[arg-type]
    assert anew == made
    assert {name for name, value in other.items() if value != shipped[name]} >= ({moved} - {""})
    assert found(design, store, replace(FEW)) == (shipped, set())
