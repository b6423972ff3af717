"""What tests of studies share."""

from __future__ import annotations

import pytest

from stringflux.cases.kept.store import Store


@pytest.fixture(scope="module")
def store() -> Store:
    """Stages in memory alone."""
    return Store(None, code="1")
