"""A mix is found as a case is: by path or by its name, and with a sentence for what is neither."""

from __future__ import annotations

from pathlib import Path

import pytest

from stringflux.cases.files.load import shipped_mixes
from stringflux.cases.files.mixes import find_mix
from stringflux.geometry.errors import CaseError


def test_by_name_and_by_path() -> None:
    name, path = next(iter(shipped_mixes().items()))
    assert find_mix(name) == find_mix(str(path)) == path


@pytest.mark.parametrize(("which", "says"), [
    ("zzz", "is neither a file nor a shipped mix; the shipped mixes are "),
    ("baritone-six", "is a case of one pickup; stringflux mix wants a file that names several"),
    ("x" * 5000, "cannot be read: File name too long"),
    ("/dev/null", "is no ordinary file but a pipe, a device or a socket; save the mix in a file"),
    ("", "is a folder; name a mix file in it"),
])
def test_no_such_mix(which: str, says: str) -> None:
    with pytest.raises(CaseError, match=says):
        find_mix(which)


def test_the_nearest_name() -> None:
    name = next(iter(shipped_mixes()))
    with pytest.raises(CaseError, match=f"did you mean {name}"):
        find_mix(f"nowhere/{name}x.toml")


def test_a_folder(tmp_path: Path) -> None:
    with pytest.raises(CaseError, match="is a folder; name a mix file in it"):
        find_mix(str(tmp_path))
