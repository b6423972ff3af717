"""What a 3-D mesh takes, as it is told."""

from __future__ import annotations

import math

import pytest

from stringflux.cases.jobs.verify_needs import refuse_beyond, said_memory
from stringflux.geometry.errors import CaseError


@pytest.mark.parametrize(("size", "needed", "there"), [
    (324e6, "330 MB", "320 MB"), (0.5e9, "500 MB", "500 MB"), (1e9, "1.0 GB", "1.0 GB"),
    (2.81e9, "2.9 GB", "2.8 GB")])
def test_memory_is_told_on_the_safe_side(size: float, needed: str, there: str) -> None:
    assert said_memory(size) == needed
    assert said_memory(size, math.floor) == there


def test_what_is_refused_reads_as_more_than_there_is() -> None:
    with pytest.raises(CaseError, match="string 2 in 3-D needs about 510 MB and --memory allows 500 MB"):
        refuse_beyond(0.504e9, 0.5e9, 2)
    refuse_beyond(0.5e9, 0.5e9, 2)
