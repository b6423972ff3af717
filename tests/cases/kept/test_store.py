"""The store of stages: damage, bounds, several processes, folders that cannot be written."""

from __future__ import annotations

import json
import os
import pickle
import resource
import subprocess
import sys
import time
from collections.abc import Callable
from hashlib import blake2b
from importlib import import_module
from pathlib import Path

import numpy as np
import pytest
from filelock import FileLock

from stringflux.cases.kept.digest import digest
from stringflux.cases.kept.format import RECORDS, from_bytes, to_bytes
from stringflux.cases.kept.store import SIZE, Store, _size, default_store
from stringflux.cases.kept.store_folder import OWN, TAG
from stringflux.geometry.errors import CaseError
from stringflux.geometry.shapes.row import PartShape

FRESH = 'import sys; from pathlib import Path; from stringflux.cases.kept.store import Store; '


def files(folder: Path) -> list[Path]:
    return sorted(p for p in folder.glob("??/*") if p.is_file())


def fresh(folder: Path, **more: object) -> Store:
    """A store with an empty memory, as another process would have it."""
    return Store(folder, code="1", **more)  # type: ignore[arg-type]


def no_need() -> float:
    raise AssertionError("it was kept and should not be made")


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return tmp_path / "stages"


def test_results_are_remembered_and_read(folder: Path) -> None:
    value = np.array([0.1, np.pi])
    store = fresh(folder)
    assert store("rest", ("a", 1.0), lambda: value) is value
    assert store("rest", ("a", 1.0), no_need) is value
    read = fresh(folder)("rest", ("a", 1.0), no_need)
    assert np.array_equal(np.asarray(read), value)
    assert fresh(folder)("rest", ("a", 2.0), lambda: 5.0) == 5.0
    assert fresh(folder)("pull", ("a", 1.0), lambda: 6.0) == 6.0
    assert store.counts == {("rest", "made"): 1, ("rest", "remembered"): 1}


def test_stages_for_memory_only_make_no_files(folder: Path) -> None:
    assert fresh(folder)("table", 1, lambda: 2.0) == 2.0
    assert files(folder) == []


@pytest.mark.parametrize("spoil", [
    lambda raw: raw[: len(raw) // 2], lambda raw: raw[:-1], lambda raw: b"", lambda raw: raw[:10],
    lambda raw: raw[:30] + bytes([raw[30] ^ 1]) + raw[31:], lambda raw: raw[:-3] + bytes([raw[-3] ^ 64]) + raw[-2:],
    lambda raw: b"\0" * len(raw), lambda raw: raw + b"x",
])
def test_damaged_files_are_deleted_and_made_again(folder: Path, spoil: Callable[[bytes], bytes]) -> None:
    fresh(folder)("row", "key", lambda: list(range(100)))
    [path] = files(folder)
    whole = path.read_bytes()
    path.write_bytes(spoil(whole))
    store = fresh(folder)
    assert store("row", "key", lambda: list(range(100))) == list(range(100))
    assert store.counts["row", "damaged"] >= 1
    assert store.counts["row", "made"] == 1
    assert path.read_bytes() == whole


def test_a_file_under_another_name_is_not_believed(folder: Path) -> None:
    fresh(folder)("rest", "a", lambda: "of a")
    [path] = files(folder)
    fresh(folder)("rest", "b", lambda: "of b")
    [other] = [p for p in files(folder) if p != path]
    other.write_bytes(path.read_bytes())
    assert fresh(folder)("rest", "b", lambda: "of b again") == "of b again"


def test_another_version_of_the_code_finds_nothing(folder: Path) -> None:
    Store(folder, code="1")("rest", "a", lambda: 1)
    assert Store(folder, code="2")("rest", "a", lambda: 2) == 2
    assert Store(folder, code="1")("rest", "a", no_need) == 1


def test_the_folder_stays_within_its_bound_and_the_unused_go_first(folder: Path) -> None:
    largest, size = 400_000, 8000
    used = folder / (name := digest(("rest", "used", "1")))[:2] / name
    fresh(folder, largest=largest)("rest", "used", lambda: b"u" * size)
    for i in range(40):
        fresh(folder, largest=largest)("rest", i, lambda: b"x" * size)
        # what was written since it was last looked through may come on top: 1/32
        assert sum(p.stat().st_size for p in files(folder)) <= largest * 33 / 32 + size
    os.utime(used, (0, 0))  # a long time ago
    fresh(folder)("rest", "used", no_need)  # its time of use moves on, or it would be the first to go
    later = fresh(folder, largest=largest)
    for i in range(100, 130):  # one store that writes much
        later("rest", i, lambda: b"x" * size)
    assert sum(p.stat().st_size for p in files(folder)) <= largest * 33 / 32 + size
    fresh(folder)("rest", "used", no_need)
    fresh(folder)("rest", 129, no_need)
    assert fresh(folder)("rest", 0, lambda: "again") == "again"


def test_memory_is_bounded() -> None:
    store = Store(None, code="1")
    for i in range(20):
        store("table", i, lambda i=i: i)  # type: ignore[misc]
    assert store("table", 19, no_need) == 19
    assert store("table", 0, lambda: "again") == "again"


def test_of_two_processes_one_waits_for_the_other(folder: Path, tmp_path: Path) -> None:
    log = tmp_path / "log"
    code = FRESH + (
        "import time\n"
        "def make():\n"
        f"    open({str(log)!r}, 'a').write('made\\n'); time.sleep(1.0); return 42\n"
        f"print(Store(Path({str(folder)!r}), code='1')('row', 'key', make))")
    both = [subprocess.Popen([sys.executable, "-c", code], stdout=subprocess.PIPE, text=True) for _ in range(2)]
    assert [p.communicate(timeout=60)[0].strip() for p in both] == ["42", "42"]
    assert log.read_text() == "made\n"


def test_a_holder_that_died_blocks_nobody(folder: Path) -> None:
    code = FRESH + f"import os; Store(Path({str(folder)!r}), code='1')('row', 'key', lambda: os._exit(9))"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 9
    begin = time.monotonic()
    assert fresh(folder)("row", "key", lambda: 1) == 1
    assert time.monotonic() - begin < 30  # the patience is 120 s


def test_a_holder_that_hangs_is_not_waited_for_for_ever(folder: Path) -> None:
    store = fresh(folder, patience=0.1)
    with FileLock(folder / "locks" / digest(("row", "key", "1"))):
        assert store("row", "key", lambda: 1) == 1
    assert fresh(folder)("row", "key", no_need) == 1


def test_a_failure_is_not_kept_and_lets_go(folder: Path) -> None:
    def fail() -> int:
        raise CaseError("no")

    store = fresh(folder, patience=0.1)
    with pytest.raises(CaseError):
        store("row", "key", fail)
    assert store("row", "key", lambda: 1) == 1


def test_a_full_disk_is_told_once_and_harms_nothing(folder: Path, caplog: pytest.LogCaptureFixture) -> None:
    store = fresh(folder)
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (1000, hard))
    try:
        for i in range(3):
            assert store("rest", i, lambda: b"x" * 5000) == b"x" * 5000
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
    assert store.counts["", "unkept"] == 3
    assert "are not kept" in store.trouble
    assert len(caplog.records) == 1
    assert files(folder) == []
    assert not list(folder.rglob("*.part"))
    store("rest", "later", lambda: 1)  # there is room again
    assert fresh(folder)("rest", "later", no_need) == 1


def test_a_folder_that_cannot_be_made_is_told(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    store = fresh(tmp_path / "file" / "stages")
    assert "are not kept" in store.trouble
    assert store("row", 1, lambda: 2) == 2


def test_a_folder_that_others_may_write_into_is_not_used(folder: Path) -> None:
    fresh(folder)("rest", 1, lambda: 2)
    assert folder.stat().st_mode & 0o077 == 0
    folder.chmod(0o777)
    store = fresh(folder)
    assert "others may write" in store.trouble
    assert store("rest", 1, lambda: 3) == 3


NAME = "ab" + 38 * "0"
FOREIGN = ("report.part", "thesis.txt", "locks/theirs", "ab/notes.txt", "ab/cd" + 38 * "0", f"ab/{NAME}.part",
           f"{NAME}", f"xyz/{NAME}", f"ab/deep/{NAME}")


def test_nothing_but_its_own_is_tidied_away(folder: Path) -> None:
    """Over its size and long ago: files of other names, and whatever links point at, stay."""
    store = fresh(folder, largest=20_000)
    outside = folder.parent / "ab"
    for path in (*(folder / name for name in FOREIGN), outside / NAME, folder.parent / "linked"):
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(b"x" * 30_000)
        os.utime(path, (0, 0))
    (folder / "cd").symlink_to(outside)
    (folder / "ab" / ("ab" + 38 * "1")).symlink_to(folder.parent / "linked")
    ours = [folder / "ab" / NAME, folder / "ab" / f"{NAME}.{16 * 'a'}.part", folder / "locks" / NAME]
    for path in ours:
        path.write_bytes(b"x" * 30_000)
        os.utime(path, (0, 0))
    before = {p for p in folder.parent.rglob("*") if p not in ours}
    store("rest", 1, lambda: b"x" * 9000)
    assert not any(p.exists() for p in ours)
    assert {p for p in before if not os.path.lexists(p)} == set()


def test_a_folder_of_other_things_is_not_taken_over(tmp_path: Path) -> None:
    (tmp_path / "a.part").write_text("mine")
    os.utime(tmp_path / "a.part", (0, 0))
    store = fresh(tmp_path, largest=1)
    assert "it holds other things" in store.trouble
    assert store("rest", 1, lambda: 2) == 2
    assert [p.name for p in tmp_path.iterdir()] == ["a.part"]
    (tmp_path / "real").mkdir()
    (tmp_path / "link").symlink_to(tmp_path / "real")
    assert "it is a link" in fresh(tmp_path / "link").trouble


def test_a_marker_cut_off_is_written_again(folder: Path) -> None:
    fresh(folder)("rest", 1, lambda: 2)
    whole = (folder / TAG).read_bytes()
    (folder / TAG).write_bytes(whole[:20])
    assert "it holds other things" in fresh(folder).trouble  # a foreign folder might look like that
    for path in (*files(folder), *(folder / "locks").iterdir()):
        path.unlink()
    for path in folder.iterdir():
        if path.is_dir():
            path.rmdir()
    assert fresh(folder).trouble == ""  # a process killed at its very beginning leaves it
    assert (folder / TAG).read_bytes() == whole


@pytest.mark.parametrize("make", [os.mkfifo, os.mkdir, lambda p: os.symlink("/dev/zero", p)])
def test_what_is_no_plain_file_is_not_read(folder: Path, make: Callable[[Path], None]) -> None:
    fresh(folder)("rest", "a", lambda: 1)
    [path] = files(folder)
    path.unlink()
    make(path)
    assert fresh(folder)("rest", "a", lambda: 1) == 1


class Evil:
    """Its pickle would make a file."""

    def __reduce__(self) -> tuple[object, ...]:
        return os.mkdir, ("ran",)


def test_nothing_in_the_folder_can_run(folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    fresh(folder)("rest", "a", lambda: 1)
    [path] = files(folder)
    magic = path.read_bytes()[:19]
    for payload in (pickle.dumps(Evil()), _tree(["c", "Popen", ["l", "mkdir", "ran"]]), _tree(["r", 7]),
                    _tree(["c", "StringAtRest", 1.0]), _tree(["a", "|O", [1], "C", 0]),
                    _tree(["a", "<f8", [10**9], "C", 0]), _tree(["a", "<f8", [-1, -1], "C", 0]),
                    b"[" * 100_000, b"", len(b"[" * 9**6).to_bytes(8, "little") + b"[" * 9**6):
        checksum = blake2b(payload, digest_size=32, key=path.name.encode()).digest()
        path.write_bytes(magic + checksum + payload)
        store = fresh(folder)
        assert store("rest", "a", lambda: 5) == 5, payload[:80]
        assert store.counts["rest", "damaged"] == 1
        path.unlink(missing_ok=True)
    assert not (tmp_path / "ran").exists()


@pytest.mark.parametrize("name", RECORDS)
def test_what_may_be_kept_is_there(name: str) -> None:
    assert isinstance(getattr(import_module(RECORDS[name][0]), name, None), type)


def _tree(tree: object) -> bytes:
    text = json.dumps(tree).encode()
    return len(text).to_bytes(8, "little") + text


def test_values_come_back_as_they_were() -> None:
    shared = np.arange(6.0).reshape(2, 3)
    values = (0.1, -0.0, float("inf"), 10**40, True, None, "µ", b"\0x", np.float64(1 / 3), np.bool_(True),
              np.int32(-4), [1, (2.0, [])], {"a": (1,), 3: None}, np.empty((0, 3)), np.array(2.5),
              np.asfortranarray(shared), shared[:, ::2], np.array([1 + 2j]), np.array([True, False]),
              (shared, shared))
    for value in values:
        back = from_bytes(to_bytes(value))
        assert repr(back) == repr(value)
        assert type(back) is type(value)
        if isinstance(value, np.ndarray):
            assert (back.dtype, back.shape) == (value.dtype, value.shape)
            assert back.flags.f_contiguous == value.flags.f_contiguous
            assert back.flags.writeable
    assert np.isnan(from_bytes(to_bytes(float("nan"))))
    one, other = from_bytes(to_bytes((shared, shared)))
    assert one is other
    for refused in (object(), np.array([object()]), range(3), Evil()):
        with pytest.raises(TypeError):
            to_bytes(refused)


def test_the_environment_names_folder_and_size(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("STRINGFLUX_CACHE", str(folder))
    monkeypatch.setenv(SIZE, "1.5 MB")
    default_store.cache_clear()
    try:
        assert (default_store().folder, default_store().largest) == (folder / OWN, 1_500_000)
        default_store.cache_clear()
        monkeypatch.setenv("STRINGFLUX_CACHE", "off")
        assert default_store().folder is None
    finally:
        default_store.cache_clear()
    assert [_size(t) for t in ("", "300", "2GB", "7 k")] == [2_000_000_000, 300, 2_000_000_000, 7000]
    with pytest.raises(CaseError, match=r"STRINGFLUX_CACHE_SIZE: received .much."):
        _size("much")


def test_digests_tell_apart_whatever_could_change_a_digit() -> None:
    part = PartShape(material="rod", outline=((0.0, 0.0), (1e-3, 0.0), (0.0, 1e-3)))
    different = [0.0, -0.0, 1, 1.0, True, None, "", "1", (), ((),), ("ab", "c"), ("a", "bc"), (1.0, 2.0),
                 np.array([1.0, 2.0]), np.array([[1.0, 2.0]]), np.array([1, 2]), {"a": 1}, part, float("nan"),
                 np.nextafter(1.0, 2.0)]
    assert len({digest(x) for x in different}) == len(different)
    assert digest({"a": 1, "b": 2}) == digest({"b": 2, "a": 1})
    assert digest(part) == digest(PartShape(material="rod", outline=part.outline))
    # the same in every process: written down once
    assert digest(("rod", 0.1, 3)) == "aae892ea955c9e420714a54757f9184a655899f8"
    with pytest.raises(TypeError, match="object"):
        digest(object())
