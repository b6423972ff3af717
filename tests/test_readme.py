"""README and DEVELOPERS say what is true: commands, options, targets, links, files and the notebook example."""

from __future__ import annotations

import re
import shlex
from typing import Any

import pytest
import typer
from typer.testing import CliRunner

from rigs.source_tree import ROOT, TOP, sources
from stringflux.cases import cli
from stringflux.cases.cli import app

NAMES = ("README.md", "DEVELOPERS.md", "CHANGELOG.md",
         *sorted(f"docs/{path.name}" for path in (ROOT / "docs").glob("*.md")))
PAGES = {name: (ROOT / name).read_text(encoding="utf-8") for name in NAMES}
TEXT = "\n".join(PAGES.values())
GROUP: Any = typer.main.get_command(app)
COMMANDS = {name: GROUP.get_command(None, name) for name in cli.COMMANDS}
TARGETS = set(re.findall(r"^([a-z]+):", (ROOT / "Makefile").read_text(encoding="utf-8"), re.MULTILINE))
LARGEST_PICTURE = 300_000  # bytes


def blocks(language: str, page: str = "README.md") -> list[str]:
    return re.findall(rf"^```{language}\n(.*?)^```", PAGES[page], re.MULTILINE | re.DOTALL)


def command_lines() -> list[str]:
    """Every line of a shell block, and every piece of code in the text, that calls stringflux."""
    lines = [line for page in PAGES for block in blocks("sh", page) for line in block.splitlines()]
    lines += re.findall(r"`(stringflux [^`]+)`", TEXT)
    return sorted({" ".join(line.split()) for line in lines if line.startswith("stringflux ")})


@pytest.mark.parametrize("line", command_lines())
def test_command_lines_parse(line: str) -> None:
    """Every option is one of that command and has a value where it takes one."""
    name, *rest = shlex.split(line, comments=True)[1:]
    if name.startswith("--"):
        known = {option for parameter in typer.main.get_command(app).params for option in parameter.opts}
        assert name in {*known, "--help"}  # not run: one of them writes into the shell's own files
        return
    if name == "COMMAND":
        return
    command = COMMANDS[name]
    assert CliRunner().invoke(app, [name, "--help"]).exit_code == 0
    if rest:  # else only the command is named
        with command.make_context(name, rest):  # parses, runs nothing
            pass


def test_results_go_into_results_and_apart() -> None:
    """A reader who types the pages in order finds results/ alone, and no command meets another one's."""
    makers: dict[str, set[str]] = {}
    for line in command_lines():
        found = re.search(r" --(?:out|export) (\S+)", line)
        if found and not re.search(r" [A-Z]{2,}\b", line):
            makers.setdefault(found[1], set()).add(" ".join(line.split()[1:3 if "demonstrate" in line else 2]))
    assert len(makers) > 20
    assert [name for name in makers if not name.startswith("results/") and name != "results"] == []
    assert {name: commands for name, commands in makers.items() if len(commands) > 1} == {}


@pytest.mark.parametrize("page", PAGES)
def test_make_targets_exist(page: str) -> None:
    code = "\n".join(blocks("sh", page) + re.findall(r"`([^`\n]+)`", PAGES[page]))
    assert set(re.findall(r"^make ([a-z]+)", code, re.MULTILINE)) <= TARGETS


def test_links_and_pictures_exist() -> None:
    links = [(page, link) for page, text in PAGES.items()
             for link in re.findall(r"\]\(([^)#]+)\)", text) + re.findall(r'src="([^"]+)"', text)]
    assert links
    for page, link in links:
        if "://" not in link:
            assert (ROOT / page).parent.joinpath(link).is_file(), (page, link)


def test_pictures_are_small() -> None:
    for path in (ROOT / "docs").rglob("*.png"):
        assert path.stat().st_size < LARGEST_PICTURE, path


def test_files_named_exist() -> None:
    """A path in code, from the root or with a folder's name before it."""
    named = set(re.findall(r"`(?:python )?((?:[\w.]+/)+[\w.]+\.(?:py|toml|md|sh))\b", TEXT))
    assert named
    assert sorted(path for path in named if not (ROOT / path).is_file()) == []


def test_map_has_every_package() -> None:
    """`python tests/run.py source_map --write` puts right what this finds."""
    listed = re.findall(r"^- `([\w/]+)/` (\w)", PAGES["DEVELOPERS.md"], re.MULTILINE)
    assert [home for home, _ in listed] == [p.parent.as_posix() for p in sorted(
        (p for p in sources() if p.name == "__init__.py"), key=lambda p: (TOP.index(p.parts[0]), p.parent))]


def test_developers_is_short() -> None:
    assert len(PAGES["DEVELOPERS.md"].splitlines()) <= 300


@pytest.mark.parametrize("code", blocks("python"))
def test_notebook_examples_run(code: str, capsys: pytest.CaptureFixture[str]) -> None:
    exec(compile(code, "README.md", "exec"), {})
    assert "mV per m/s" in capsys.readouterr().out
