"""Scripts that measure are loaded here, so that none rots; what they print stands in docs."""

from __future__ import annotations

import pytest
import run

from measure.measured import BLOCK, PAGES, commands


@pytest.mark.parametrize("name", run.scripts())
def test_a_script_can_be_loaded_and_says_what_it_prints(name: str) -> None:
    assert run.loaded(name)


def test_every_block_has_a_script() -> None:
    assert commands()
    assert {command.split()[0] for command in commands()} <= set(run.scripts())


def test_marks_come_in_pairs() -> None:
    text = "".join(page.read_text(encoding="utf-8") for page in PAGES)
    assert len(BLOCK.findall(text)) == text.count("<!-- run:") == text.count("<!-- end -->")
