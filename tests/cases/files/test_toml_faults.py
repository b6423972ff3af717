"""Faults of TOML itself, and keys in the wrong place: the line that spoils the file, and what would do."""

from __future__ import annotations

import os
import socket
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from stringflux.cases.files.load import TEMPLATE, load_case
from stringflux.cases.files.mixes import load_mix
from stringflux.cases.files.toml_faults import MOST_PARTS
from stringflux.cases.readings.file import read_readings
from stringflux.geometry import CaseError

TEXT = TEMPLATE.read_text(encoding="utf-8")

LINE_OF_LIST = TEXT.splitlines().index("[[string]]") + 1
LINE_OF_COIL = TEXT.splitlines().index("[coil]") + 1
LINE_OF_TURNS = TEXT.splitlines().index("turns = 6500") + 1
LINE_OF_GAUGE = TEXT.splitlines().index('gauge = "0.036 in"') + 1

FAULTS = [
    # name, what the template has, what stands there instead, the line, what would do
    ("quantity without quotes", 'spacing = "10.4 mm"', "spacing = 10.4 mm", "spacing = 10.4 mm",
     'a quantity stands in quotes, write spacing = "10.4 mm"'),
    ("fraction without quotes", 'face = "1.5 mm"', "face = 1/16 in", "face = 1/16 in", 'write face = "1/16 in"'),
    ("list without quotes", 'face = "1.5 mm"', "face = [1.5 mm, 2 mm]", "face = [1.5 mm, 2 mm]",
     'each quantity stands in quotes, write "1.5 mm" there'),
    ("size of wire without quotes", 'wire = "42 AWG"', "wire = 42 AWG", "wire = 42 AWG", 'write wire = "42 AWG"'),
    ("text without quotes", 'material = "alnico-5"', "material = alnico-5", "material = alnico-5",
     'a text stands in quotes, write material = "alnico-5"'),
    ("curly quotes", 'title = "My pickup"', "title = “My pickup”", "title = “My pickup”",
     'curly quotes; write straight ones, title = "My pickup"'),
    ("curly quote at one end", 'title = "My pickup"', 'title = "My pickup”', 'title = "My pickup”',
     'write straight ones, title = "My pickup"'),
    ("quote not closed", 'face = "1.5 mm"', 'face = "1.5 mm', 'face = "1.5 mm', 'write face = "1.5 mm"'),
    ("quote not opened", 'face = "1.5 mm"', 'face = 1.5 mm"', 'face = 1.5 mm"', 'write face = "1.5 mm"'),
    ("key twice", "turns = 6500", "turns = 6500\nturns = 6600", "turns = 6600",
     f"turns is there already, in line {LINE_OF_TURNS}; keep one of them"),
    ("table twice", "[coil]\n", "[coil]\n[coil]\n", "[coil]", f"this table is there already, in line {LINE_OF_COIL}"),
    ("brackets of a list, first", "[[string]]", "[string]", "[[string]]", "write [[string]] in both"),
    ("brackets of a list, later", '[[string]]\ngauge = "0.036 in"', '[string]\ngauge = "0.036 in"', "[string]",
     f"line {LINE_OF_LIST} has [[string]]; a list stands in double brackets each time, write [[string]] in both"),
    ("comma of thousands", "turns = 6500", "turns = 6,500", "turns = 6,500",
     "a number stands without commas and blanks, write turns = 6500"),
    ("blank of thousands", "turns = 6500", "turns = 6 500", "turns = 6 500", "write turns = 6500"),
    ("decimal comma", "turns = 6500", "turns = 6500,5", "turns = 6500,5", "write turns = 6500.5"),
    ("colon", "turns = 6500", "turns: 6500", "turns: 6500", "an = is missing, write turns = 6500"),
    ("no value", "turns = 6500", "turns =", "turns =", "nothing stands after =; write a value, or drop turns"),
    ("semicolon", "turns = 6500", "turns = 6500;", "turns = 6500;", "without a semicolon, write turns = 6500"),
    ("list not closed", 'face = "1.5 mm"', 'face = ["1.5 mm", "2 mm"', 'face = ["1.5 mm", "2 mm"',
     "its list is not closed, write a ] at its end"),
    ("head not closed", "[[string]]", "[[string]", "[[string]", "stands in brackets, write [[string]]"),
    ("blank in a key", "inner_width", "inner width", 'inner width = "5 mm"', "inner width is no name of a key"),
    ("backslash", 'title = "My pickup"', r'title = "My \pickup"', r'title = "My \pickup"', "write two of them"),
]


def told(text: str, folder: Path) -> str:
    path = folder / "c.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(CaseError) as caught:
        load_case(path)
    return str(caught.value)


@pytest.mark.parametrize(("old", "new", "line", "says"), [f[1:] for f in FAULTS], ids=[f[0] for f in FAULTS])
def test_the_line_and_what_would_do(old: str, new: str, line: str, says: str, tmp_path: Path) -> None:
    assert old in TEXT
    spoilt = TEXT.replace(old, new, 1)
    said = told(spoilt, tmp_path)
    assert f" reads `{line}`; " in said
    assert says in said
    number = int(said.removeprefix("c.toml, line ").partition(" ")[0])
    assert line in spoilt.splitlines()[number - 1]
    assert "\n" not in said


@pytest.mark.parametrize(("old", "new", "says"), [
    ("[row]\n", "[row]\nwire = \"42 AWG\"\n", 'line 16: row: "wire" is not a key here; it belongs under [coil]'),
    ("[coil]\n", "[coil]\ngap = \"2 mm\"\n",
     f'line {LINE_OF_COIL + 1}: coil: "gap" is not a key here; it belongs under [strings], ['),
    ('title = "My pickup"', "turns = 6500", 'line 9: "turns" is not a key here; it belongs under [coil]'),
    ("[[pole.part]]", "[[part]]", 'line 29: "part" is not a key here; it belongs under a head of its own, [[pole.p'),
    ("[[pole]]\n", "[pole]\n", "line 26: pole: received a table, [pole]; write a list, each of its tables under dou"),
    ("[coil]\n", "[[coil]]\n",
     f"line {LINE_OF_COIL}: coil: received a list, [[coil]]; write a table, once and under single"),
    ("turns = 6500", "turn = 6500", f'line {LINE_OF_TURNS}: coil: "turn" is not a key here (did you mean "turns"?)'),
    ("turns = 6500", "turns = -1", f"line {LINE_OF_TURNS}: coil, turns: received -1; write"),
    ('gauge = "0.036 in"', 'gauge = "0.036"',
     f'line {LINE_OF_GAUGE}: string 2, gauge: received "0.036", which has no unit'),
    ('diameter = "4.8 mm"\n', "", "line 29: pole 1, part 1, diameter: it is missing"),
])  # fmt: skip
def test_what_the_case_cannot_be_names_its_line(old: str, new: str, says: str, tmp_path: Path) -> None:
    assert old in TEXT
    assert f"c.toml, {says}" in told(TEXT.replace(old, new, 1), tmp_path)


def test_a_change_of_the_command_line_has_no_line(tmp_path: Path) -> None:
    path = tmp_path / "c.toml"
    path.write_text(TEXT, encoding="utf-8")
    with pytest.raises(CaseError, match=r"^c\.toml: coil, turns: received -1"):
        load_case(path, {"coil.turns": -1})


@pytest.mark.parametrize("key", ["a" + ".a" * 200_000, '"a"' + '."a b"' * 100_000, "[" + "x . " * 200_000 + "x]"])
def test_a_key_of_endless_parts_is_told_at_once(key: str, tmp_path: Path) -> None:
    begin = time.process_time()
    said = told(f"title = 'x'\n{key} = 1\n", tmp_path)
    assert said == f"c.toml, line 2: a key of more than {MOST_PARTS} parts; no path of a case is so long"
    assert time.process_time() - begin < 2.0  # the reader itself would take hours


@pytest.mark.parametrize("text", ["x" * 900_000, '"' * 900_000, "a." * 30 + "\n" + "1." * 400_000, "[" * 900_000,
                                  "x = " + "9 " * 400_000, "x = " + '"a" ' * 200_000, "x = '" + "a, b. " * 150_000])
def test_endless_lines_are_told_at_once(text: str, tmp_path: Path) -> None:
    begin = time.process_time()
    assert len(told(text, tmp_path)) < 500
    assert time.process_time() - begin < 4.0


def test_keys_as_long_as_may_be_are_read_in_time(tmp_path: Path) -> None:
    """15 000 keys of the most parts: what the reader's square of the parts can cost at worst."""
    begin = time.process_time()
    parts = ".".join(["a"] * (MOST_PARTS - 1))
    told("\n".join(f"x{i}.{parts} = 1" for i in range(14_000)), tmp_path)
    assert time.process_time() - begin < 10.0


def as_case(path: Path) -> None:
    load_case(path)


def as_mix(path: Path) -> None:
    load_mix(str(path))


def as_readings(path: Path) -> None:
    read_readings(str(path), load_case("bench-single"))


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="pipes with names are of Unix")
@pytest.mark.parametrize("read", [as_case, as_mix, as_readings])
def test_a_pipe_is_refused_and_not_waited_for(read: Callable[[Path], None], tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    with socket.socket(socket.AF_UNIX) as listener:
        listener.bind(str(tmp_path / "socket"))
        for path in (tmp_path / "pipe", Path("/dev/zero"), tmp_path / "socket"):
            with pytest.raises(CaseError, match="is no ordinary file but a pipe, a device or a socket; save"):
                read(path)
    with pytest.raises(CaseError, match="is a folder; name a"):
        read(tmp_path)
