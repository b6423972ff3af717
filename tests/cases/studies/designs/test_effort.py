"""How long a study of a build is said to take: as many answers of all bodies as the solver makes."""

from __future__ import annotations

from collections.abc import Callable
from types import SimpleNamespace

import pytest

from stringflux.cases import load_case, solve
from stringflux.cases.files.load import built_in_uses, find_case, read_toml
from stringflux.cases.studies.designs.effort import answers
from stringflux.geometry.case.model import Case
from stringflux.geometry.reading.read import read_case
from stringflux.solver.solid import under_strings


def screws_beside_a_blade() -> Case:
    """The slugs of `side-by-side-six` in one piece."""
    data = read_toml(find_case("side-by-side-six"))
    second = data["second_coil"][0]
    del second["row"], second["pole"]
    second["coil"]["x"] = "-9 mm"
    data["body"].append({"shape": "box", "name": "blade", "material": "steel-1008", "along": "3 mm",
                         "across": "56 mm", "height": "15.4 mm", "top": "1 mm", "centre": ["-9 mm", "0 mm"]})
    return read_case(data, materials=built_in_uses())


@pytest.mark.slow
@pytest.mark.parametrize(("make", "count", "least", "most"), [
    (lambda: load_case("side-by-side-six"), 0, 0.0, 0.0),
    (lambda: load_case("blade-six"), 1, 0.3, 0.55),
    (lambda: load_case("shaped-blade-six"), 6, 0.28, 0.45),
    (screws_beside_a_blade, 5, 0.75, 0.95),  # two strings of one height either side of the middle share one
], ids=["poles", "blade", "blade with a cut edge", "screws beside a blade"])
def test_answers_are_counted_as_they_are_made(monkeypatch: pytest.MonkeyPatch, make: Callable[[], Case], count: int,
                                              least: float, most: float) -> None:
    """`least` and `most`: what each takes, in solutions, as measured."""
    made: list[object] = []

    def line_answer(*given: object) -> SimpleNamespace:
        made.append(given)
        return SimpleNamespace(imaged=lambda: None)

    monkeypatch.setattr(under_strings, "line_answer", line_answer)
    case = make()
    solve(case, quality="draft", solver="solid").solved.solution()
    assert len(made) == count
    assert count * least <= answers(case) <= count * most
