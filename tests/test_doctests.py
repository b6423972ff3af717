"""Every example in a docstring is run, under the name people import the module by.

pytest's own ``--doctest-modules`` would import the folders a second time, as ``geometry`` and so on.
"""

from __future__ import annotations

import doctest
from importlib import import_module

import pytest

from rigs.source_tree import ROOT, dotted, modules, sources

pytestmark = pytest.mark.usefixtures("shared_solutions")

# Matplotlib's and numpy's reprs change with their versions in white space only.
OPTIONS = doctest.NORMALIZE_WHITESPACE | doctest.ELLIPSIS

WITH_EXAMPLES = [dotted(path) for path in sources() if ">>> " in (ROOT / path).read_text(encoding="utf-8")]


@pytest.mark.parametrize("name", WITH_EXAMPLES)
def test_examples_in_docstrings(name: str, monkeypatch: pytest.MonkeyPatch, tmp_path: object) -> None:
    monkeypatch.chdir(str(tmp_path))  # an example may write a file
    outcome = doctest.testmod(import_module(name), optionflags=OPTIONS)
    assert outcome.failed == 0, "the report of the failed examples is printed above"


def test_every_module_is_imported() -> None:
    """Those without an example too."""
    for name in modules():
        import_module(name)
