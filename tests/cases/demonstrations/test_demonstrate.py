"""Demonstrations for scripts: every one by its name, and what is refused."""

from __future__ import annotations

import pytest

from stringflux.cases import demonstrate, load_case, solve
from stringflux.geometry.errors import CaseError

pytestmark = pytest.mark.usefixtures("shared_solutions")


@pytest.mark.slow
def test_of_a_pickup_it_is_the_pickups_own() -> None:
    by_name = demonstrate("string", "bench-single", quality="draft", amplitude=0.2e-3)
    own = solve(load_case("bench-single"), quality="draft").demonstrate("string", amplitude=0.2e-3)
    assert by_name.text() == own.text()
    assert by_name.plot(what="e = −dλ/dt").get_ylabel() == "e = −dλ/dt (mV)"


@pytest.mark.parametrize(("name", "asked", "word"), [
    ("wheel", {}, "the demonstrations are"),
    ("falling-magnet", {"amplitude": 1e-3}, "changes of its case alone"),
    ("hum", {"drive": "pluck"}, "it takes string, field, mains"),
])
def test_refusals(name: str, asked: dict[str, object], word: str) -> None:
    with pytest.raises(CaseError, match=word):
        demonstrate(name, **asked)  # type: ignore[arg-type]
