"""The exported page as text: every module after those it imports, nothing that could end a script early."""

from __future__ import annotations

import re

import pytest

from stringflux.cases.cli import main
from stringflux.cases.live.export import PAGE, packed_modules


def test_modules_stand_behind_what_they_import() -> None:
    there: list[str] = []
    for name, text in packed_modules():
        assert set(re.findall("@@([^@]+)@@", text)) <= set(there), name
        there.append(name)
    assert there[-1] == "main.js"
    ours = {name for name in there if not name.startswith("vendor/")}
    assert ours == {p.name for p in PAGE.glob("*.js") if p.name != "frozen.js"}


@pytest.mark.parametrize(("words", "said"), [(["page.txt"], "ends in .html"), (["there.html"], "--force")])
def test_where_it_goes(words: list[str], said: str, tmp_path: object, monkeypatch: pytest.MonkeyPatch,
                       capsys: pytest.CaptureFixture[str]) -> None:
    monkeypatch.chdir(str(tmp_path))
    with open("there.html", "w", encoding="utf-8") as file:
        file.write("mine")
    assert main(["live", "bench-single", "--export", *words]) == 2
    assert said in capsys.readouterr().err
