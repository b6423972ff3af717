"""Completion of a command line in bash, zsh and fish: the scripts they load, and what they are answered."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys

import pytest

PROGRAM = "import sys; from stringflux.cases.cli import main; sys.exit(main())"


def answer(**environment: str) -> str:
    """What the program prints to a shell that asks."""
    done = subprocess.run([sys.executable, "-c", PROGRAM], env={**os.environ, **environment},
                          capture_output=True, text=True, check=False)
    assert done.stderr == ""
    return done.stdout


def words(shell: str, line: str) -> set[str]:
    """The words offered for the last one of a line."""
    if shell == "bash":
        typed = line.split(" ")
        printed = answer(_STRINGFLUX_COMPLETE="complete_bash", COMP_WORDS=line, COMP_CWORD=str(len(typed) - 1))
        return set(printed.split())
    if shell == "zsh":
        printed = answer(_STRINGFLUX_COMPLETE="complete_zsh", _TYPER_COMPLETE_ARGS=line)
        return set(re.findall(r'(?:^|\()"([^"]+)"', printed, re.MULTILINE))  # "word" or "word":"what it is"
    printed = answer(_STRINGFLUX_COMPLETE="complete_fish", _TYPER_COMPLETE_FISH_ACTION="get-args",
                     _TYPER_COMPLETE_ARGS=line)
    return {text.split("\t")[0] for text in printed.splitlines() if text}


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
@pytest.mark.parametrize(("line", "offered"), [
    ("stringflux pre", {"predict"}),
    ("stringflux predict ba", {"bar-screws-six", "baritone-six", "bass-four"}),
    ("stringflux predict bass-four --qual", {"--quality"}),
    ("stringflux predict bass-four --quality d", {"draft"}),
    ("stringflux predict my-pick", set()),  # then files
    ("stringflux nothing like th", set()),
])
def test_words_offered(shell: str, line: str, offered: set[str]) -> None:
    assert words(shell, line) == offered


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
def test_script(shell: str) -> None:
    script = answer(_STRINGFLUX_COMPLETE=f"source_{shell}")
    assert f"_STRINGFLUX_COMPLETE=complete_{shell}" in script
    if shutil.which(shell):
        subprocess.run([shell, "-n"], input=script, text=True, check=True)
