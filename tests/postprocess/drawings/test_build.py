"""The drawing of a build: seen from the strings nothing is mirrored, and every pole says which end is up."""

from __future__ import annotations

from stringflux.cases import load_case
from stringflux.postprocess.drawings.to_scale import drawing


def test_seen_from_the_strings_is_no_mirror_image() -> None:
    axes = drawing(load_case("side-by-side-six")).axes
    view = next(ax for ax in axes if ax.get_title(loc="left") == "Seen from the strings")
    (left, right), (low, high) = view.get_xlim(), view.get_ylim()
    # z towards who looks: x, y, z are right-handed, so with y to the right x goes down
    assert right > left
    assert low > high
    letters = {(t.get_text(), round(t.get_position()[1]) > 0) for t in view.texts if t.get_text() in {"N", "S"}}
    assert letters == {("N", True), ("S", False)}
