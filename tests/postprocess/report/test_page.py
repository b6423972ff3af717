"""The report: its words follow the numbers, its page is sound HTML, and no text of a case gets out of its place."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from functools import lru_cache
from html.parser import HTMLParser
from pathlib import Path

import numpy as np
import pytest

from rigs.cases.report_case import NOTE, TITLE, evil_figures, evil_findings, evil_report, six_strings
from stringflux.cases import load_case
from stringflux.geometry.case.keys import Quantity
from stringflux.geometry.units import parse
from stringflux.postprocess.drawings.to_scale import drawing
from stringflux.postprocess.report.chapters import report_of
from stringflux.postprocess.report.inputs import _marks, input_tables
from stringflux.postprocess.report.page import render
from stringflux.postprocess.report.pictures import picture
from stringflux.postprocess.report.strings import STRONG, WEAK, balance_table
from stringflux.postprocess.report.summary import key_figures, summary
from stringflux.postprocess.report.trust import cautions, trust_table
from stringflux.postprocess.report.words import figure

DAY = datetime(2026, 3, 9)
VOID = {"meta", "link", "img", "source"}


class Page(HTMLParser):
    """Tags with their attributes and the text inside, and whether every tag was closed in order."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str]]] = []
        self.words: dict[str, list[str]] = {}
        self._open: list[str] = []
        self.feed(text)
        self.close()
        assert self._open == []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, {k: v or "" for k, v in attrs}))
        if tag not in VOID:
            self._open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self._open.pop() == tag

    def handle_data(self, data: str) -> None:
        if self._open:
            self.words.setdefault(self._open[-1], []).append(data)

    def all(self, tag: str) -> list[dict[str, str]]:
        return [attrs for name, attrs in self.tags if name == tag]


@lru_cache
def evil_page() -> Page:
    return Page(render(evil_report(), DAY))


def test_texts_of_the_case_are_shown_and_never_obeyed() -> None:
    page = evil_page()
    assert page.words["h1"] == [TITLE]
    assert NOTE in page.words["p"]
    assert "".join(page.words["pre"]) == evil_findings().text
    assert page.all("script") == []
    assert len(page.all("style")) == 1
    assert all(not name.startswith("on") for _, attrs in page.tags for name in attrs)
    assert any("<i>5000</i>" in text for text in page.words["p"])


def test_nothing_is_fetched() -> None:
    for tag, attrs in evil_page().tags:
        for name in ("src", "href", "srcset", "poster", "data"):
            assert attrs.get(name, "#").startswith(("data:", "#")), (tag, name)
    policy = next(m["content"] for m in evil_page().all("meta") if "http-equiv" in m)
    assert policy.startswith("default-src 'none'")
    css = evil_page().words["style"][0]
    assert "url(" not in css
    assert "@import" not in css


def test_headings_captions_and_alternatives() -> None:
    page = evil_page()
    assert page.all("html") == [{"lang": "en"}]
    levels = [int(tag[1]) for tag, _ in page.tags if tag in ("h1", "h2", "h3", "h4")]
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert max(np.diff(levels)) <= 1
    assert len(page.all("caption")) == len(page.all("table")) > 10
    assert all(th.get("scope") in ("col", "row") for th in page.all("th"))
    images = page.all("img")
    assert len(images) == 8  # drawing, section, fields, linkage, impedance and three of the signal; no balance of one
    assert all(len(image["alt"]) > 30 and int(image["width"]) > 300 for image in images)
    ids = [attrs["id"] for _, attrs in page.tags if "id" in attrs]
    assert len(ids) == len(set(ids))
    for link in page.all("a"):
        assert link["href"][1:] in ids
    for _, attrs in page.tags:
        assert attrs.get("aria-labelledby", ids[0]) in ids


def test_every_table_is_whole() -> None:
    tables = [part for section in evil_report().sections for part in section.parts if part.kind == "table"]
    for table in tables:
        lengths = {len(column.cells) for column in table.columns}
        assert len(lengths) == 1, table.caption
        assert lengths != {0}, table.caption
        for column in table.columns:
            assert all(column.cells) or column.blank or column.head == "What it is", table.caption
            assert not any("nan" in cell.split() for cell in column.cells), table.caption


def test_summary_of_one_string() -> None:
    found = evil_findings()
    text, string = summary(found), found.prediction.strings[0]
    assert text.startswith("One string over one pole, with a coil of 5000 turns of 42 AWG wire.")
    assert f"the string makes {figure(1e3 * string.sensitivity)} mV" in text
    assert "weakest" not in text
    assert f"and {figure(1e3 * found.prediction.coil.inductance)} mH" in text or "H." in text


def test_summary_of_six_strings_names_the_right_ones() -> None:
    text = summary(six_strings())
    assert text.startswith("Six strings")
    assert "string 1 (G3) is the loudest with 100 mV" in text
    assert "string 6 (G3) the weakest, 5.0 dB below it (give or take 1.0 dB)" in text
    assert "string 3 (G3) leads and string 6 (G3) is 6.0 dB under it" in text
    figures = {f.name: f.value for f in key_figures(six_strings())}
    assert figures["Strongest string"] == "100 mV"
    assert figures["Weakest string"] == "−5.0 dB"


def test_balance_marks_the_strongest_and_the_weakest() -> None:
    _, speed, force, distance = balance_table(six_strings()).columns
    for column, strong, weak in ((speed, 0, 5), (force, 2, 5), (distance, 0, 5)):
        assert [i for i, cell in enumerate(column.cells) if STRONG in cell] == [strong]
        assert [i for i, cell in enumerate(column.cells) if WEAK in cell] == [weak]


def test_a_measured_coil_is_called_measured() -> None:
    found = evil_findings()
    measured = replace(found.winding, resistance=4321.0, resistance_measured=True, capacitance=90e-12,
                       capacitance_band=(90e-12, 90e-12), capacitance_measured=True)
    known = replace(found, winding=measured, circuit_ends=(found.circuit, found.circuit))
    assert "4.32 kΩ (measured, 20 °C)" in summary(known)
    bands = dict(zip(trust_table(known).columns[0].cells, trust_table(known).columns[1].cells, strict=True))
    assert bands["DC resistance"] == "measured"
    assert bands["Resonances"] == "some per cent"


def test_what_cannot_be_computed_is_left_out_and_told() -> None:
    bare = replace(evil_findings(), played=(), pulls=(), without=("bridge_distance is missing",))
    report = report_of(bare, evil_figures())
    keys = [section.key for section in report.sections]
    assert "signal" not in keys
    assert "pull" not in keys
    assert "bridge_distance is missing" in render(report, DAY)
    assert "detune" not in report.summary


def test_every_key_of_a_case_is_in_the_inputs_with_its_value() -> None:
    """Read back from the tables, quantities are what the case holds, to six digits."""
    case = load_case(Path(__file__).parents[2] / "full_case.toml")
    tables = {table.caption: table for table in input_tables(case)}
    for caption, model in (("Coil", case.coil), ("Load", case.load)):
        keys, values, *_ = (column.cells for column in tables[caption].columns)
        shown = dict(zip(keys, values, strict=True))
        for key, info in type(model).model_fields.items():
            value = getattr(model, key)
            if value is None or value == ():
                assert key not in shown
            for mark in (m for m in (*info.metadata, *_marks(info.annotation)) if isinstance(m, Quantity)):
                if value is not None and value != ():
                    assert parse(shown[key], mark.kind) == pytest.approx(value, rel=1e-5)
    strings = tables["Strings, one by one"]
    assert len(strings.columns[0].cells) == len(case.string)
    assert any("polyline" in cell for table in tables.values() for column in table.columns for cell in column.cells)


def test_magnets_bring_their_caution() -> None:
    with_magnets, without = (" ".join(head for head, _ in cautions(m).items) for m in (True, False))
    assert "Magnets" in with_magnets
    assert "Magnets" not in without
    assert "Mains" in without


def test_same_case_same_picture() -> None:
    """So that two reports of one case differ in nothing but what differs."""
    case = evil_findings().case
    first, second = (picture("drawing", drawing(case)) for _ in range(2))
    assert first.source == second.source
    assert first.source.startswith("data:image/svg+xml;base64,")
