"""`stringflux worksheet`: what it writes, and what it refuses before it computes."""

from __future__ import annotations

from pathlib import Path

import pytest

from stringflux.cases.cli import main
from stringflux.cases.demonstrations import worksheet as computed

pytestmark = pytest.mark.usefixtures("shared_solutions")

Printed = pytest.CaptureFixture[str]


def _run(*words: str) -> int:
    return main(["worksheet", "bench-single", "--quality", "draft", *words])


def test_writes_sheet_and_key_and_replaces_its_own(tmp_path: Path, capsys: Printed,
                                                   monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    assert _run() == 0
    assert "Worksheet: bench-single-worksheet.html" in capsys.readouterr().out
    sheet = (tmp_path / "bench-single-worksheet.html").read_text(encoding="utf-8")
    assert _run("--answers", "--seed", "4") == 0
    key = (tmp_path / "bench-single-key-4.html").read_text(encoding="utf-8")
    assert "class=\"work\"" in key
    assert "class=\"work\"" not in sheet
    assert "<script" not in sheet + key
    assert "default-src 'none'" in sheet
    assert "<text" in sheet, "the picture's text is text"
    assert _run("--out", "bench-single-key-4.html", "--seed", "4", "--answers") == 0
    assert (tmp_path / "bench-single-key-4.html").read_text(encoding="utf-8") == key, "same seed, same bytes"
    assert _run("--out", "bench-single-key-4.html") == 0


@pytest.mark.parametrize(("words", "says"), [
    (("--seed", "-1"), "0 to 9999"), (("--seed", "10000"), "0 to 9999"), (("--seed", "two"), "seed"),
    (("--string", "2"), "1 to 1"), (("--out", "mine.pdf"), "ends in .html"),
    (("--out", "nowhere/mine.html"), "no folder"),
    (("--out", "other.html"), "no worksheet of stringflux"), (("--set", "pole.1.part.1.charge=0"), "magnetis"),
])
def test_refuses_in_a_sentence(words: tuple[str, ...], says: str, tmp_path: Path, capsys: Printed,
                               monkeypatch: pytest.MonkeyPatch) -> None:
    def never(*args: object, **more: object) -> None:
        raise AssertionError("computed")

    monkeypatch.setattr(computed, "worksheet_figures", never)
    monkeypatch.chdir(tmp_path)
    (tmp_path / "other.html").write_text("<p>mine</p>", encoding="utf-8")
    assert _run(*words) == 2
    said = capsys.readouterr().err
    assert says in said
    assert said.count("\n") == 1
    assert (tmp_path / "other.html").read_text(encoding="utf-8") == "<p>mine</p>"
