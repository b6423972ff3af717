"""The table of what numerical settings cost can still be made: every name that it changes is where it says."""

from __future__ import annotations

import pytest

from measure.settings import SETTINGS, Setting


@pytest.mark.parametrize("setting", SETTINGS, ids=lambda s: f"{s.name}: {s.changed}")
def test_what_is_changed_is_there(setting: Setting) -> None:
    assert hasattr(setting.where, setting.attribute)
