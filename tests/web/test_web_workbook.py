"""The folder: nothing outside it is read or written, and nothing inside it is lost."""

from __future__ import annotations

import os
import threading

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from web_kit import ORIGIN, Reader, fill, open_page, stock_text

from shaftwright.errors import InputError
from shaftwright.web.workbook import ABSENT, Conflict, Workbook

pytestmark = pytest.mark.slow


def test_save_and_read_back(tmp_path):
    book = Workbook(tmp_path)
    assert book.read("rig").revision == ABSENT
    first = book.save("rig", "a: 1\n", ABSENT)
    assert book.read("rig") == first
    second = book.save("rig", "a: 2\n", first.revision)
    assert book.read("rig").text == "a: 2\n"
    assert second.revision != first.revision
    assert [book.read_kept(name) for name in book.kept()] == ["a: 1\n"]


def test_a_clash_keeps_both(tmp_path):
    book = Workbook(tmp_path)
    first = book.save("rig", "a: 1\n", ABSENT)
    book.save("rig", "a: theirs\n", first.revision)
    with pytest.raises(Conflict) as clash:
        book.save("rig", "a: mine\n", first.revision)
    assert book.read("rig").text == "a: theirs\n"
    assert clash.value.theirs.text == "a: theirs\n"
    assert book.read_kept(clash.value.kept) == "a: mine\n"
    # knowing the other version, the same save goes through, and theirs is kept
    book.save("rig", "a: mine\n", clash.value.theirs.revision)
    assert book.read("rig").text == "a: mine\n"
    assert {book.read_kept(n) for n in book.kept()} >= {"a: 1\n", "a: theirs\n"}


def test_the_same_text_saved_twice_is_no_clash(tmp_path):
    book = Workbook(tmp_path)
    first = book.save("rig", "a: 1\n", ABSENT)
    book.save("rig", "a: 2\n", first.revision)
    assert book.save("rig", "a: 2\n", first.revision).text == "a: 2\n"


def test_of_many_savers_one_wins_and_none_is_lost(tmp_path):
    start = Workbook(tmp_path).save("rig", "start\n", ABSENT)
    outcomes: list[str] = []
    barrier = threading.Barrier(8)

    def save(number: int) -> None:
        book = Workbook(tmp_path)
        barrier.wait()
        try:
            book.save("rig", f"number: {number}\n", start.revision)
            outcomes.append("won")
        except Conflict:
            outcomes.append("clash")

    threads = [threading.Thread(target=save, args=(n,)) for n in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(outcomes) == ["clash"] * 7 + ["won"]
    book = Workbook(tmp_path)
    texts = {book.read("rig").text, *(book.read_kept(name) for name in book.kept())}
    assert texts == {"start\n", *(f"number: {n}\n" for n in range(8))}


@pytest.mark.parametrize("what", ["rig", "stock", "notebook"])
def test_links_are_not_followed(tmp_path, what):
    folder, secret = tmp_path / "book", tmp_path / "secret"
    folder.mkdir()
    secret.write_text("secret words\n")
    name = {"rig": "rig.yaml", "stock": "stock.csv", "notebook": "notebook.yaml"}[what]
    (folder / name).symlink_to(secret)
    book = Workbook(folder)
    with pytest.raises(InputError, match="is a link"):
        book.read(what)
    with pytest.raises(InputError, match="is a link"):
        book.save(what, "x\n", ABSENT)
    assert secret.read_text() == "secret words\n"
    client, _ = open_page(folder)
    for path in ("/", "/rig", "/stock", "/shots", "/files"):
        answer = client.get(path)
        assert answer.status_code == 200
        assert "secret words" not in answer.text
    assert client.get(f"/files/{name}").status_code == 404
    assert client.get("/files/everything.zip").status_code == 200


def test_the_kept_folder_is_no_way_out(tmp_path):
    folder, outside = tmp_path / "book", tmp_path / "outside"
    folder.mkdir()
    outside.mkdir()
    (outside / "rig-20260101-000000-00000000.yaml").write_text("secret\n")
    (folder / "kept").symlink_to(outside)
    book = Workbook(folder)
    assert book.kept() == []
    first = book.save("rig", "a: 1\n", ABSENT)
    with pytest.raises(InputError, match="is a link"):
        book.save("rig", "a: 2\n", first.revision)
    assert book.read("rig").text == "a: 1\n"
    assert len(os.listdir(outside)) == 1


def test_a_pipe_does_not_hang_the_page(tmp_path):
    os.mkfifo(tmp_path / "rig.yaml")
    with pytest.raises(InputError, match="not a plain file"):
        Workbook(tmp_path).read("rig")


@pytest.mark.parametrize(
    "path",
    ["/files/../secret", "/files/%2e%2e/secret", "/files/..%2fsecret", "/files/%2fetc%2fpasswd",
     "/files/kept/..%2f..%2fsecret", "/files/kept/rig.yaml", "/static/..%2f..%2fapp.py", "/static/app.py",
     "/files/rig.yaml%00", "/files/RIG.YAML", "/files/kept/rig-20260101-000000-00000000.yaml%0a"],
)  # fmt: skip
@pytest.mark.slow
def test_no_way_out_of_the_folder(tmp_path, path):
    folder = tmp_path / "book"
    folder.mkdir()
    (tmp_path / "secret").write_text("secret words")
    client, _ = open_page(fill(folder))
    answer = client.get(path)
    assert answer.status_code == 404
    assert "secret words" not in answer.text


@settings(
    max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(st.text(max_size=40))
@pytest.mark.slow
def test_any_name_is_found_or_not_there(tmp_path, name):
    from urllib.parse import quote

    client, _ = open_page(tmp_path)
    for before in ("/files/", "/files/kept/", "/static/"):
        assert client.get(before + quote(name, safe="")).status_code in (200, 303, 404)


def test_not_a_folder(tmp_path):
    with pytest.raises(InputError, match="is not a folder"):
        Workbook(tmp_path / "nowhere")


def test_a_stock_with_faults_changes_nothing(tmp_path):
    client, door = open_page(fill(tmp_path))
    before = (tmp_path / "stock.csv").read_text()
    revision = Reader(client.get("/stock").text).value("revision")
    bad = stock_text().replace("PLAIN-400,shaft", "PLAIN-400,shft").encode()
    answer = client.post("/stock", data={"token": door.token, "revision": revision},
                         files={"file": ("../../evil.csv", bad)}, headers=ORIGIN)  # fmt: skip
    assert answer.status_code == 422
    assert "your file:2: kind" in answer.text
    assert (tmp_path / "stock.csv").read_text() == before
    assert not list(tmp_path.parent.glob("*evil*"))


def test_a_stock_is_loaded_by_its_own_name(tmp_path):
    client, door = open_page(fill(tmp_path))
    revision = Reader(client.get("/stock").text).value("revision")
    new = stock_text("FEN-500").encode()
    answer = client.post("/stock", data={"token": door.token, "revision": revision},
                         files={"file": ("../../evil.csv", new)}, headers=ORIGIN)  # fmt: skip
    assert answer.status_code == 303
    assert (tmp_path / "stock.csv").read_bytes() == new
    assert "FEN-500" in client.get("/stock").text
    assert [p.name for p in tmp_path.iterdir() if "evil" in p.name] == []
    clash = client.post("/stock", data={"token": door.token, "revision": revision},
                        files={"file": ("x.csv", stock_text("LATE-500").encode())}, headers=ORIGIN)  # fmt: skip
    assert clash.status_code == 409
    assert (tmp_path / "stock.csv").read_bytes() == new
    book = Workbook(tmp_path)
    assert any("LATE-500" in (book.read_kept(name) or "") for name in book.kept())


def test_beginning_overwrites_nothing(tmp_path):
    (tmp_path / "stock.csv").write_text(stock_text("MINE-500"))
    client, door = open_page(tmp_path)
    assert client.post("/begin", data={"token": door.token}, headers=ORIGIN).status_code == 303
    assert "MINE-500" in (tmp_path / "stock.csv").read_text()
    assert (tmp_path / "notebook.yaml").exists()
    assert not (tmp_path / "rig.yaml").exists()


def test_a_folder_that_cannot_be_written_is_told(tmp_path):
    (tmp_path / "elsewhere").mkdir()
    client, door = open_page(fill(tmp_path))
    (tmp_path / "kept").symlink_to(tmp_path / "elsewhere")
    before = (tmp_path / "stock.csv").read_text()
    revision = Reader(client.get("/stock").text).value("revision")
    answer = client.post("/stock", data={"token": door.token, "revision": revision},
                         files={"file": ("x.csv", stock_text("NEW-500").encode())}, headers=ORIGIN)  # fmt: skip
    assert answer.status_code == 409
    assert "could not be saved" in answer.text
    assert (tmp_path / "stock.csv").read_text() == before


def test_a_full_disk_is_told(tmp_path, monkeypatch):
    import errno

    from shaftwright.web import workbook

    def full(*_: object) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    client, door = open_page(tmp_path)
    monkeypatch.setattr(workbook, "write_atomic", full)
    answer = client.post("/begin", data={"token": door.token}, headers=ORIGIN)
    assert answer.status_code == 409
    assert "No space left on device" in answer.text


@pytest.mark.slow
def test_papers_that_do_not_fit_together_are_told(tmp_path):
    fill(tmp_path)
    entry = (
        "- {kind: bareshaft, build: {shaft: NOBODY-1, length: 30}, distance: 12, reads: stiff}\n"
    )
    (tmp_path / "notebook.yaml").write_text(entry)
    client, _ = open_page(tmp_path)
    client.get("/", headers={"x-part": "1"})
    for path in (
        "/",
        "/look",
        "/builds",
        "/shots/says",
        "/files/choose.json",
        "/files/report.html",
    ):
        assert client.get(path).status_code in (200, 303, 404, 422), path
    assert client.get("/rig").status_code == 200
