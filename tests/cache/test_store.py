"""The file that results are kept in: what goes in comes out, and no trouble with it is more than a word."""

from __future__ import annotations

import random
import sqlite3
import threading
from pathlib import Path

import pytest

from audit.cache import store as store_module
from audit.cache.identity import COARSE_NS, YOUNG_NS, FileIdentity, hash_file, look_at, vouches
from audit.cache.store import NAME, Content, Store, kept_files, remove_files

OLD_NS = 1_000_000_000_123_456_789
FILE = FileIdentity(path=b"/show/Song/Bass.wav", size_bytes=100, modified_ns=OLD_NS, file_id=2**64 - 3)


def content(identity: FileIdentity, words: str = "c0ffee", seen_ns: int = OLD_NS + YOUNG_NS) -> Content:
    return Content(identity=identity, seen_ns=seen_ns, content=words)


def changed(**what: object) -> FileIdentity:
    plain = {name: getattr(FILE, name) for name in ("path", "size_bytes", "modified_ns", "file_id")}
    return FileIdentity(**(plain | what))  # type: ignore[arg-type]


def test_results_come_back_from_another_visit(tmp_path: Path):
    bodies = {f"key {n}": bytes([n % 256]) * n for n in range(1, 1300)}
    with Store(tmp_path / "deep" / "down") as store:
        store.write("stem", bodies)
        store.write("song", {"key 1": b"another kind"})
    with Store(tmp_path / "deep" / "down") as store:
        assert store.read("stem", [*bodies, "unknown"]) == bodies
        assert store.read("song", bodies) == {"key 1": b"another kind"}
        assert (store.count("stem"), store.count("song")) == (1299, 1)


def test_a_file_is_known_by_all_four(tmp_path: Path):
    with Store(tmp_path) as store:
        store.remember([content(FILE)])
        assert store.contents([FILE]) == {FILE: "c0ffee"}
        for other in (
            changed(path=b"/show/Song/bass.wav"), changed(size_bytes=101), changed(modified_ns=OLD_NS + 1),
            changed(file_id=7),
        ):  # fmt: skip
            assert store.contents([other]) == {}


@pytest.mark.parametrize(
    ("modified_ns", "seen_after_ns", "enough"),
    [
        (OLD_NS, YOUNG_NS, True),
        (OLD_NS, YOUNG_NS - 1, False),
        (OLD_NS, -1_000_000_000, False),  # its time lies in the future
        (OLD_NS // COARSE_NS * COARSE_NS, 10 * YOUNG_NS, False),
        (OLD_NS // COARSE_NS * COARSE_NS + 1, 10 * YOUNG_NS, True),
    ],
    ids=["3 s old", "younger than 3 s", "of tomorrow", "coarse, as on FAT", "a nanosecond beside"],
)
def test_young_and_coarse_times_prove_nothing(tmp_path, modified_ns: int, seen_after_ns: int, enough: bool):
    file = changed(modified_ns=modified_ns)
    assert vouches(file, modified_ns + seen_after_ns) is enough
    with Store(tmp_path) as store:
        store.remember([content(file, seen_ns=modified_ns + seen_after_ns)])
        assert bool(store.contents([file])) is enough


def test_the_hash_is_that_of_all_bytes(tmp_path: Path):
    import xxhash

    path = tmp_path / "Bass.wav"
    data = random.Random(1).randbytes(2 * (1 << 22) + 17)
    path.write_bytes(data)
    told: list[None] = []
    assert hash_file(path, lambda: told.append(None)) == xxhash.xxh3_128_hexdigest(data)
    assert len(told) >= 3
    assert look_at(path).size_bytes == len(data)


@pytest.mark.parametrize("damage", ["no database", "torn pages", "emptied", "half a file"])
def test_a_damaged_file_is_begun_anew_with_a_word(tmp_path: Path, damage: str):
    bodies = {f"key {n}": random.Random(n).randbytes(3000) for n in range(400)}
    with Store(tmp_path) as store:
        store.write("stem", bodies)
    base = tmp_path / NAME
    data = bytearray(base.read_bytes())
    if damage == "no database":
        data = bytearray(b"something else entirely" * 1000)
    elif damage == "torn pages":
        for at in range(4096, len(data), 4096):
            data[at : at + 64] = random.Random(at).randbytes(64)
    elif damage == "emptied":
        data = bytearray()
    else:
        del data[len(data) // 2 :]
    base.write_bytes(data)
    words: list[str] = []
    with Store(tmp_path, words.append) as store:
        found = store.read("stem", bodies)
        assert all(bodies[key] == body for key, body in found.items())
        store.write("stem", {"new": b"results"})
        assert store.read("stem", ["new"]) == {"new": b"results"}
    assert len(words) == (0 if damage == "emptied" else 1)
    assert all("begun anew" in line and str(tmp_path) in line for line in words)


def test_a_body_that_does_not_fit_its_check_sum_is_not_read(tmp_path: Path):
    bodies = {f"key {n}": bytes(200) for n in range(50)}
    with Store(tmp_path) as store:
        store.write("stem", bodies)
    base = sqlite3.connect(tmp_path / NAME)
    base.execute("UPDATE kept SET body = CAST(zeroblob(199) || x'01' AS BLOB) WHERE key = 'key 7'")
    base.commit()
    base.close()
    with Store(tmp_path) as store:
        assert set(store.read("stem", bodies)) == set(bodies) - {"key 7"}


def test_what_only_reads_mends_nothing(tmp_path: Path):
    (tmp_path / NAME).write_bytes(b"something else entirely" * 1000)
    with Store(tmp_path, only_reads=True) as store:
        assert store.read("stem", ["key"]) == {}
    assert (tmp_path / NAME).read_bytes().startswith(b"something")


def test_no_room_is_a_word_and_no_more(tmp_path: Path):
    words: list[str] = []
    with Store(tmp_path, words.append) as store:
        store.write("stem", {"small": b"x"})
        assert store._base is not None
        pages = store._base.execute("PRAGMA page_count").fetchone()[0]
        store._base.execute(f"PRAGMA max_page_count = {pages}")  # SQLite's own full disk
        store.write("stem", {"large": bytes(1 << 20)})
        assert store.read("stem", ["small"]) == {}
        store.write("stem", {"more": b"x"})
    (said,) = words
    assert said.startswith(
        f"the results of this scan cannot be kept in {tmp_path}: database or disk is full;"
    )
    with Store(tmp_path) as store:
        assert store.read("stem", ["small", "large"]) == {"small": b"x"}


def test_a_folder_that_cannot_be_made_is_a_word(tmp_path: Path):
    (tmp_path / "file").write_text("no folder")
    words: list[str] = []
    with Store(tmp_path / "file" / "folder", words.append) as store:
        store.write("stem", {"key": b"x"})
        assert store.read("stem", ["key"]) == {}
    assert len(words) == 1


def test_two_at_once_lose_nothing(tmp_path: Path):
    def work(number: int) -> None:
        with Store(tmp_path, words.append) as store:
            for n in range(40):
                store.write("stem", {f"{number}/{n}": bytes([number])})
                assert store.read("stem", [f"{number}/{n}"])

    words: list[str] = []
    threads = [threading.Thread(target=work, args=(number,)) for number in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert words == []
    with Store(tmp_path) as store:
        assert store.count("stem") == 160


def test_many_that_lay_out_one_new_file_wait_for_each_other(tmp_path: Path):
    """SQLite tells "locked" at once to whoever asks for the write-ahead log while another does."""

    def work(folder: Path) -> None:
        together.wait()
        with Store(folder, words.append) as store:
            store.write("stem", {"key": b"x"})

    words: list[str] = []
    together = threading.Barrier(8)
    for number in range(40):
        threads = [threading.Thread(target=work, args=(tmp_path / str(number),)) for _ in range(8)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
    assert words == []


def test_a_new_file_that_another_holds_is_waited_for(tmp_path: Path):
    """As above, without chance: the other has it exclusively, not in the write-ahead log, for a while."""
    path = tmp_path / NAME
    other = sqlite3.connect(path, isolation_level=None, check_same_thread=False)
    other.execute("CREATE TABLE theirs (x)")
    other.execute("BEGIN EXCLUSIVE")
    words: list[str] = []
    leaves = threading.Timer(0.3, other.execute, ["ROLLBACK"])
    leaves.start()
    with Store(tmp_path, words.append) as store:
        store.write("stem", {"key": b"x"})
        assert store.read("stem", ["key"]) == {"key": b"x"}
    leaves.join()
    other.close()
    assert words == []


def test_a_file_that_another_never_lets_go_is_a_word(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(store_module, "PATIENCE_S", 0.1)
    other = sqlite3.connect(tmp_path / NAME, isolation_level=None)
    other.execute("CREATE TABLE theirs (x)")
    other.execute("BEGIN EXCLUSIVE")
    words: list[str] = []
    with Store(tmp_path, words.append) as store:
        assert store.read("stem", ["key"]) == {}
    other.close()
    (said,) = words
    assert "database is locked" in said


def test_what_nobody_asks_for_goes(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    with Store(tmp_path) as store:
        store.write("stem", {"old": b"x", "asked for": b"y"})
        store.remember([content(FILE)])
        today = store_module._today()
        monkeypatch.setattr(store_module, "_today", lambda: today + 40)
        store.prune()
        assert set(store.read("stem", ["asked for"])) == {"asked for"}
        monkeypatch.setattr(store_module, "_today", lambda: today + 70)
        store.prune()
        assert set(store.read("stem", ["old", "asked for"])) == {"asked for"}
        assert store.contents([FILE]) == {}


def test_past_a_gigabyte_less_patience_is_shown(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(store_module, "MOST_BYTES", 100_000)
    with Store(tmp_path) as store:
        today = store_module._today()
        store.write("stem", {"old": bytes(200_000)})
        monkeypatch.setattr(store_module, "_today", lambda: today + 20)
        store.write("stem", {"new": bytes(2_000)})
        store.prune()
        assert set(store.read("stem", ["old", "new"])) == {"new"}


def test_files_of_any_schema_are_deleted_and_nothing_else(tmp_path: Path):
    with Store(tmp_path) as store:
        store.write("stem", {"key": bytes(1000)})
    (tmp_path / "results-0.sqlite").write_bytes(bytes(10))
    (tmp_path / "somebody's.txt").write_text("mine")
    assert remove_files(tmp_path) > 1000
    assert kept_files(tmp_path) == []
    assert [path.name for path in tmp_path.iterdir()] == ["somebody's.txt"]
    assert remove_files(tmp_path / "nowhere") == 0
