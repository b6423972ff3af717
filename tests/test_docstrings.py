"""Whoever reads a formula in solver/ or postprocess/ is told where it is from, and what a person's call can raise."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
MODULES = [p.relative_to(ROOT) for top in ("solver", "postprocess") for p in sorted((ROOT / top).rglob("*.py"))]
_FORMULA = re.compile(r"::\n|^ {4,}.*[=∫Σ∂√∝→≥]", re.MULTILINE)
_SECTION = re.compile(r"^References\n-+\n(.+)", re.MULTILINE | re.DOTALL)
_OURS = {"CaseError", "InputError", "SolveError", "MissingLibraryError"}
_SOURCE = re.compile(r"\b(1[89]|20)\d\d\b|\b(IEC|ASTM) ?[A-Z]?\d|[Dd]erived here")


def untold(text: str) -> list[str]:
    """What of a module has a formula and no word of its source: its head, or a public name of it without one."""
    tree = ast.parse(text)
    head = ast.get_docstring(tree) or ""
    found = [] if not _FORMULA.search(head) or _told(head) else ["its head"]
    for node in ast.walk(tree):
        if isinstance(node, ast.FunctionDef | ast.ClassDef) and not node.name.startswith("_"):
            says = ast.get_docstring(node) or ""
            if "::\n" in says and not (_told(says) or _told(head)):
                found.append(node.name)
    return found


def _told(says: str) -> bool:
    section = _SECTION.search(says)
    return section is not None and _SOURCE.search(section[1]) is not None


@pytest.mark.parametrize("path", MODULES, ids=str)
def test_a_formula_names_its_source_or_is_derived_here(path: Path) -> None:
    assert untold((ROOT / path).read_text(encoding="utf-8")) == []


@pytest.mark.parametrize(("says", "missing"), [
    ("Nothing to derive.", []),
    ("A law::\n\n    B = μ H\n", ["its head"]),
    ("A law,\n\n    B = μ H\n\nwith its letters.", ["its head"]),
    ("A law::\n\n    B = μ H\n\nReferences\n----------\nSomebody, a book.", ["its head"]),  # no year: not to be found
    ("A law::\n\n    B = μ H\n\nReferences\n----------\nDerived here.", []),
    ("A law::\n\n    B = μ H\n\nReferences\n----------\nA. Body, *A Book*, 1962 (memory).", []),
])
def test_what_counts_as_told(says: str, missing: list[str]) -> None:
    assert untold(f'"""{says}"""\n') == missing
    inner = says.replace("\n", "\n    ")
    if "::" in says:
        assert untold(f'"""A module."""\ndef law() -> None:\n    """{inner}"""\n') == ["law"] * len(missing)


def unraised(text: str) -> list[str]:
    """Public functions and classes of a module that raise one of our errors and do not say so."""
    found = []

    def look(node: ast.Module | ast.ClassDef, says: str) -> None:
        for inner in node.body:
            if isinstance(inner, ast.ClassDef) and not inner.name.startswith("_"):
                look(inner, ast.get_docstring(inner) or "")
            elif isinstance(inner, ast.FunctionDef) and _raised(inner) & _OURS:
                making = inner.name in ("__init__", "__post_init__")
                own = says if making else ast.get_docstring(inner) or ""
                if (making or not inner.name.startswith("_")) and "\nRaises\n------\n" not in own:
                    found.append(inner.name)

    look(ast.parse(text), "")
    return found


def _raised(function: ast.FunctionDef) -> set[str]:
    return {node.exc.func.id for node in ast.walk(function) if isinstance(node, ast.Raise)
            and isinstance(node.exc, ast.Call) and isinstance(node.exc.func, ast.Name)}


@pytest.mark.parametrize("path", MODULES, ids=str)
def test_what_can_be_raised_is_told(path: Path) -> None:
    assert unraised((ROOT / path).read_text(encoding="utf-8")) == []


def test_what_counts_as_raised() -> None:
    law = "def law() -> None:\n    \"\"\"One.{}\"\"\"\n    raise CaseError('no')\n"
    assert unraised(law.format("")) == ["law"]
    assert unraised(law.format("\n\n    Raises\n    ------\n    CaseError\n    ")) == []
    assert unraised(law.replace("def law", "def _law").format("")) == []
    made = "class Made:\n    \"\"\"One.\"\"\"\n    def __post_init__(self) -> None:\n        raise SolveError('no')\n"
    assert unraised(made) == ["__post_init__"]
