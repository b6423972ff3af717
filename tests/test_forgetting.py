"""A module's caches are emptied at its end, what it imports keeps its own, and memory goes back."""

from __future__ import annotations

import sys
from functools import cache, lru_cache
from types import ModuleType

import numpy as np
import pytest

from rigs import forgetting
from rigs.forgetting import forget, resident


@lru_cache
def of_another() -> list[int]:
    return [1]


def test_what_a_module_keeps_is_forgotten() -> None:
    module = ModuleType("a_module_of_tests")

    @cache
    def own() -> list[int]:
        return [1]

    own.__module__ = module.__name__
    vars(module).update(own=own, of_another=of_another)
    mine, theirs = own(), of_another()
    forget(module)
    assert own() is not mine
    assert of_another() is theirs


@pytest.mark.skipif(sys.platform != "linux", reason="where the system tells")
def test_memory_goes_back(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(forgetting, "LARGE", 0.0)
    monkeypatch.setattr(forgetting, "_left", [0.0])
    module = ModuleType("a_module_of_tests")

    @cache
    def held() -> list[object]:
        circle: list[object] = [np.ones(50_000) for _ in range(500)]  # 200 MB
        circle.append(circle)
        return circle

    held.__module__ = module.__name__
    vars(module)["held"] = held
    held()
    full = resident()
    forget(module)
    assert resident() < full - 150e6
