"""Where the designs of a study are computed: here, or in a folder, with the same outcomes."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from stringflux.cases import CompareRequest, Running, compare
from stringflux.geometry.errors import CaseError, InputError

ASKED = CompareRequest(vary={"strings.gap": ["2 mm", "3 mm"], "coil.turns": [1000, 2000]})


def test_here_and_in_a_folder_are_the_same(tmp_path: Path) -> None:
    told: list[tuple[int, int, int]] = []
    here = compare("bench-single", ASKED, quality="draft", progress=lambda *done: told.append(done))
    assert told == [(n, 4, 0) for n in range(1, 5)]
    there = compare("bench-single", ASKED, quality="draft", running=Running(folder=tmp_path / "study", workers=1))
    assert [o.values for o in here.outcomes] == [o.values for o in there.outcomes]
    again = compare("bench-single", ASKED, quality="draft", running=Running(folder=tmp_path / "study", resume=True))
    assert [o.seconds for o in again.outcomes] == [o.seconds for o in there.outcomes]


@pytest.mark.parametrize("options", [{"workers": 2}, {"cluster": "tcp://127.0.0.1:8786"}, {"resume": True}])
def test_what_keeps_nothing_has_no_workers(options: dict[str, Any]) -> None:
    with pytest.raises(InputError, match=f"{next(iter(options))}: received without a folder"):
        Running(**options)


def test_refused_before_anything_is_computed() -> None:
    with pytest.raises(CaseError, match='quality: received "best"'):
        compare("bench-single", ASKED, quality="best")
    with pytest.raises(CaseError, match=r"strings\.gap: received"):
        compare("bench-single", CompareRequest(vary={"strings.gap": ["-3 mm"]}))
