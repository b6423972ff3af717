"""The page's own files: libraries as their authors made them, nothing from elsewhere, no script or style within."""

from __future__ import annotations

import re
from hashlib import sha256
from pathlib import Path

import pytest

PAGE = Path(__file__).parents[3] / "cases" / "live" / "page"
MODULES = sorted(PAGE.glob("*.js"))


def test_libraries_are_those_that_are_listed() -> None:
    lines = [line.split() for line in (PAGE / "vendor/VENDORED.txt").read_text(encoding="utf-8").splitlines()
             if not line.startswith("#")]
    assert {name for *_, name in lines} == {p.name for p in (PAGE / "vendor").iterdir() if p.suffix != ".txt"}
    for library, version, licence, digest, name in lines:
        assert re.fullmatch(r"[\d.]+", version)
        assert licence == "MIT"
        assert (PAGE / "vendor" / f"{library}-LICENSE.txt").exists()
        assert sha256((PAGE / "vendor" / name).read_bytes()).hexdigest() == digest, name


@pytest.mark.parametrize("path", [*MODULES, *PAGE.glob("*.html"), *PAGE.glob("*.css")], ids=lambda p: p.name)
def test_nothing_comes_from_elsewhere(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    assert set(re.findall(r"https?://[^\s'\"`)]+", text)) <= {"http://www.w3.org/2000/svg"}
    if path.suffix == ".html":
        assert not re.search(r"<script(?![^>]*\bsrc=)", text)
        assert not re.search(r"\bon\w+=|\bstyle=|<style", text)
    if path.suffix == ".js":
        assert not re.search(r"\beval\(|new Function\(|innerHTML|document\.write\(", text)
        assert text.startswith("// ")


def test_all_modules_are_asked_for_at_once() -> None:
    """What the page begins with is named in its head, so that none waits until another has named it."""
    named = set(re.findall(r'rel="modulepreload" href="([^"]+)"', (PAGE / "index.html").read_text(encoding="utf-8")))
    needed, left = set(), ["main.js"]
    while left:
        text = (PAGE / left.pop()).read_text(encoding="utf-8")
        new = set(re.findall(r"^import (?:[^'\n]*? from )?'\./([^']+)'", text, re.M)) - needed
        needed |= new
        left += new
    assert named == needed
    assert "space.js" in needed
    assert not any("three" in name for name in needed)  # only when somebody looks in space
