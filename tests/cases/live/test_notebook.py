"""`pickup.live()`: the page of this very pickup, for a notebook's frame; gone when it is stopped."""

from __future__ import annotations

import urllib.error
import urllib.request

import pytest

from stringflux.cases import load_case, solve


def test_a_pickup_shows_its_page(tmp_path: object, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("STRINGFLUX_STATE", str(tmp_path))
    pickup = solve(load_case("bench-single"), quality="draft").with_({"string.1.gap": 2.2e-3})
    page = pickup.live()
    try:
        assert f'src="{page.address}"' in page._repr_html_()
        with urllib.request.urlopen(page.address) as answer:
            assert "http://localhost:*" in answer.headers["content-security-policy"]
            assert answer.headers["x-frame-options"] is None
            assert b"main.js" in answer.read()
    finally:
        page.stop()
    with pytest.raises(urllib.error.URLError):
        urllib.request.urlopen(page.address)
