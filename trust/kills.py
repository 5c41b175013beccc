"""Saves that are killed, find the disk full, may not write, meet another writer, or come after a torn end.

Each child is forked from a process that has everything loaded, saves over and over, and says after each save
that it is done; SIGKILL comes at a random moment. What was said to be done must be there once, what was not
at most once, every file whole. `python trust/kills.py` (POSIX only).
"""

from __future__ import annotations

import argparse
import errno
import http.client
import os
import random
import re
import resource
import shutil
import signal
import socket
import subprocess
import sys
import tempfile
import time
import urllib.parse
from collections import Counter
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parent))
from click.testing import CliRunner
from record import EXAMPLES, write
from starlette.testclient import TestClient

from shaftwright.cli.main import cli
from shaftwright.errors import InputError
from shaftwright.files.atomic import write_output
from shaftwright.files.notebook import append_entry, load_notebook
from shaftwright.files.rig import load_rig
from shaftwright.records.notebook import Weigh
from shaftwright.web.app import create_app
from shaftwright.web.guard import Door, Patient

Work = Callable[[Path, int], None]
_LITTER = re.compile(r"\.shaftwright-.*\.part\Z")


def fresh(name: str = "heron_marsh") -> Path:
    """A copy of an example in a folder of its own."""
    folder = Path(tempfile.mkdtemp(prefix="trust-")) / "bow"
    shutil.copytree(EXAMPLES / name, folder)
    return folder


def run(*words: object) -> str:
    """One command; one that does not end well is an error here."""
    done = CliRunner().invoke(cli, [str(word) for word in words])
    if done.exit_code:
        raise RuntimeError(done.output)
    return done.stdout


def noted(folder: Path) -> list[str]:
    """The remarks and items by which the entries made here are told apart, in file order."""
    book = load_notebook(folder / "notebook.yaml")
    if book.faults:
        raise AssertionError(f"the notebook is torn: {book.faults[0]}")
    told = (
        str(getattr(entry, "remark", None) or getattr(entry, "item", "")) for entry in book.entries
    )
    return [one for one in told if one.startswith("trust-")]


def litter(folder: Path) -> int:
    """What a killed writer left."""
    return sum(bool(_LITTER.search(p.name)) for p in folder.rglob(".*"))


# ------------------------------------------------------------ what is killed


def by_note(folder: Path, n: int) -> None:
    run(
        "note",
        folder,
        "chrono",
        "--speed",
        "171",
        "--arrow-mass",
        "505",
        "--string",
        "A",
        "--remark",
        f"trust-{n}",
    )


def by_append(folder: Path, n: int) -> None:
    append_entry(folder / "notebook.yaml", Weigh(item=f"trust-{n}", mass=1))


def by_report(folder: Path, n: int) -> None:
    run(
        "report",
        folder,
        "--html",
        folder / "out.html",
        "--force",
        "--date",
        f"20{n % 90 + 10}-01-01",
    )


def by_list(folder: Path, n: int) -> None:
    run("shop", folder, "--csv", folder / "out.csv", "--force", "--arrows", 1 + n % 24)


_made: dict[Path, str] = {}


def by_writing(folder: Path, n: int) -> None:
    """The report's last step alone, so that most kills fall into it."""
    text = _made.setdefault(folder, (folder / "out.html").read_text(encoding="utf-8"))
    write_output(
        folder / "out.html", text.replace("</body>", f"<!-- {n} --></body>"), "report", force=True
    )


def child(folder: Path, work: Work, first: int, told: int) -> None:
    """Save over and over, and say so each time."""
    n = first
    while True:
        os.write(told, b"b%d\n" % n)
        work(folder, n)
        os.write(told, b"d%d\n" % n)
        n += 1


def killed(folder: Path, work: Work, first: int, after: float) -> tuple[set[int], set[int]]:
    """Numbers that were begun, and that were said to be saved, until the kill."""
    hear, tell = os.pipe()
    pid = os.fork()
    if pid == 0:
        try:
            os.close(hear)
            child(folder, work, first, tell)
        finally:
            os._exit(7)
    os.close(tell)
    time.sleep(after)
    os.kill(pid, signal.SIGKILL)
    status = os.waitpid(pid, 0)[1]
    with os.fdopen(hear, "rb") as stream:
        lines = stream.read().split(b"\n")[:-1]
    if not os.WIFSIGNALED(status):
        raise AssertionError(f"a child ended by itself in {work.__name__}")
    numbers = {kind: {int(line[1:]) for line in lines if line[:1] == kind} for kind in (b"b", b"d")}
    return numbers[b"b"], numbers[b"d"]


def kills_of_notes(work: Work, many: int, longest: float, rng: random.Random) -> dict[str, int]:
    """Kills while entries are added."""
    folder, n, counts = fresh(), 0, Counter[str]()
    begun: set[int] = set()
    done: set[int] = set()
    for _ in range(many):
        before = (folder / "notebook.yaml").read_bytes()
        at, of = killed(folder, work, n, rng.uniform(0, longest))
        begun, done = begun | at, done | of
        n = max(at, default=n) + 1
        counts["kills"] += 1
        counts["in the middle of a save"] += len(at - of)
        counts["left a temporary file"] += litter(folder) > 0
        if not (folder / "notebook.yaml").read_bytes().startswith(before):
            raise AssertionError("what stood in the notebook was touched")
        if n > 400:
            counts.update(judged(folder, begun, done))
            shutil.rmtree(folder.parent)
            folder, n, begun, done = fresh(), 0, set(), set()
    by_append(folder, n)
    counts["litter after the next save"] += litter(folder)
    counts.update(judged(folder, begun, done | {n}))
    shutil.rmtree(folder.parent)
    return dict(counts)


def judged(folder: Path, begun: set[int], done: set[int]) -> dict[str, int]:
    """None lost, none twice, none that nobody wrote."""
    found = Counter(int(one.split("-")[1]) for one in noted(folder))
    return {
        "saved": len(done), "lost": len(done - set(found)), "twice": sum(c > 1 for c in found.values()),
        "of nobody": len(set(found) - begun - done), "cut off yet whole": len(set(found) - done),
    }  # fmt: skip


def kills_of_outputs(
    work: Work, name: str, many: int, longest: float, rng: random.Random
) -> dict[str, int]:
    """Kills while a report or a list is written over an earlier one."""
    folder, counts = fresh(), Counter[str]()
    (by_list if name.endswith("csv") else by_report)(folder, 0)
    _made.pop(folder, None)
    if work is by_writing:
        work(folder, 0)
    for _ in range(many):
        at, of = killed(folder, work, 1, rng.uniform(0, longest))
        counts["kills"] += 1
        counts["in the middle of a save"] += len(at - of)
        counts["saved"] += len(of)
        counts["left a temporary file"] += litter(folder) > 0
        text = (folder / name).read_text(encoding="utf-8")
        whole = text.startswith("<!DOCTYPE html>") and text.rstrip().endswith("</html>")
        if name.endswith("csv"):
            whole = (
                text.startswith("part,item,")
                and text.endswith("\n")
                and len({r.count(",") > 8 for r in text.splitlines()}) == 1
            )
        counts["torn"] += not whole
    work(folder, 1)
    counts["litter after the next save"] += litter(folder)
    shutil.rmtree(folder.parent)
    return dict(counts)


# ------------------------------------------------------------ through the page


def serve(folder: Path, door: Door, listener: socket.socket) -> int:
    """The page in a child of its own."""
    pid = os.fork()
    if pid:
        return pid
    try:
        import uvicorn

        uvicorn.Server(
            uvicorn.Config(create_app(folder, door), http=Patient, ws="none", log_level="critical")
        ).run(sockets=[listener])
    finally:
        os._exit(7)


def post(port: int, path: str, form: dict[str, str]) -> int | None:
    """The status of one form that was sent; None where the page died over it."""
    body = urllib.parse.urlencode(form)
    head = {
        "Content-Type": "application/x-www-form-urlencoded",
        "Origin": f"http://127.0.0.1:{port}",
        "Sec-Fetch-Site": "same-origin",
    }
    there = http.client.HTTPConnection("127.0.0.1", port, timeout=20)
    try:
        there.request("POST", path, body, head)
        return there.getresponse().status
    except (OSError, http.client.HTTPException):
        return None
    finally:
        there.close()


def kills_of_the_page(many: int, rng: random.Random) -> dict[str, int]:
    """Kills of the page while shots and the rig are saved through HTTP."""
    import threading

    from shaftwright.web.forms import values_of
    from shaftwright.web.workbook import Workbook

    folder, counts, n = fresh(), Counter[str](), 0
    with socket.socket() as listener:
        listener.bind(("127.0.0.1", 0))
        listener.listen(64)
        port = listener.getsockname()[1]
        door = Door("127.0.0.1")
        warm = fresh()  # what the page loads, so that its children have it
        client = TestClient(create_app(warm, Door()), base_url="http://127.0.0.1")
        for path in ("/rig", "/shots"):
            client.get(path)
        begun: set[int] = set()
        done: set[int] = set()
        rigs = set()
        for k in range(many):
            pid = serve(folder, door, listener)
            if post(port, "/begin", {}) != 403:  # it is up, and lets nobody in without the token
                raise AssertionError("the page does not answer")
            stop = threading.Timer(rng.uniform(0, 0.5), os.kill, (pid, signal.SIGKILL))
            stop.start()
            while True:
                n += 1
                if k % 4 == 3:
                    now = Workbook(folder).read("rig")
                    import yaml

                    given = values_of(yaml.safe_load(now.text or ""))
                    given |= {
                        "archer.draw_length": f"{26 + n % 16 / 8:g}",
                        "token": door.token,
                        "revision": now.revision,
                    }
                    status = post(port, "/rig", given)
                    rigs.add(n % 16)
                    good, of = status == 303, "rigs"
                else:
                    begun.add(n)
                    status = post(port, "/shots", {
                        "token": door.token, "build.shaft": "MARSH-500", "build.length": "29.5", "build.point": "P175", "build.insert": "I25",
                        "distance": "20", "reads": "straight", "date": "2026-05-02", "remark": f"trust-{n}"})  # fmt: skip
                    good, of = status == 303, "shots"
                    if good:
                        done.add(n)
                counts[f"{of} saved"] += good
                if status is None:
                    break
                if not good:
                    raise AssertionError(f"{of}: the page answers {status}")
            stop.join()
            os.waitpid(pid, 0)
            counts["kills"] += 1
            counts["left a temporary file"] += litter(folder) > 0
            load_rig(folder / "rig.yaml")  # whole, or this is a fault
            if len(begun) > 150:
                counts.update(judged(folder, begun, done))
                shutil.copy(EXAMPLES / "heron_marsh" / "notebook.yaml", folder)
                begun, done = set(), set()
    by_append(folder, n + 1)
    counts["litter after the next save"] += litter(folder)
    counts.update(judged(folder, begun, done | {n + 1}))
    shutil.rmtree(folder.parent)
    return dict(counts)


# ------------------------------------------------------------ disk full, read-only, two writers, torn end


def in_child(work: Callable[[], None]) -> str:
    """What a child said: `done`, or its fault."""
    hear, tell = os.pipe()
    pid = os.fork()
    if pid == 0:
        try:
            work()
            os.write(tell, b"done")
        except InputError as error:
            os.write(tell, str(error).encode())
        except OSError as error:
            os.write(tell, f"{error.filename}: {errno.errorcode.get(error.errno or 0)}".encode())
        except BaseException as error:
            os.write(tell, f"!{error!r}".encode())
        finally:
            os._exit(0)
    os.close(tell)
    os.waitpid(pid, 0)
    with os.fdopen(hear, "rb") as stream:
        return stream.read().decode()


def full(many: int, rng: random.Random) -> dict[str, int]:
    """A disk that takes only so many bytes of a file more (RLIMIT_FSIZE), at every place of a save."""
    folder, counts = fresh(), Counter[str]()
    book = folder / "notebook.yaml"
    by_report(folder, 0)
    for n in range(many):
        target = (book, folder / "out.html")[n % 2]
        before = target.read_bytes()
        limit = rng.randrange(len(before) + 100)

        def save(limit: int = limit, n: int = n) -> None:
            signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
            resource.setrlimit(resource.RLIMIT_FSIZE, (limit, limit))
            (by_append if n % 2 == 0 else by_writing)(folder, n)

        said = in_child(save)
        counts["saves"] += 1
        if said == "done":
            counts["had room"] += 1
        else:
            counts["refused"] += 1
            counts["file touched"] += target.read_bytes() != before
            counts["fault without the file's name"] += target.name not in said or said.startswith(
                "!"
            )
        counts["left a temporary file"] += litter(folder) > 0
    noted(folder)
    shutil.rmtree(folder.parent)
    return dict(counts)


def full_device(many: int) -> dict[str, Any]:
    """A real file system of 64 kB, where one may be mounted."""
    place = Path(tempfile.mkdtemp(prefix="trust-"))
    if subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=64k", "trust", str(place)],
        capture_output=True,
        check=False,
    ).returncode:
        return {"saves": 0, "why": "no file system may be mounted here"}
    counts = Counter[str]()
    try:
        book = place / "notebook.yaml"
        for n in range(many):
            before = book.read_bytes() if book.exists() else b""
            with suppress(OSError):
                (place / "filler").write_bytes(b"x" * 65_536)
            os.truncate(place / "filler", max(os.stat(place / "filler").st_size - n % 7 * 4096, 0))
            said = in_child(lambda n=n: by_append(place, n))  # type: ignore[misc]
            counts["saves"] += 1
            counts["refused" if said != "done" else "had room"] += 1
            counts["file touched"] += (
                said != "done" and (book.read_bytes() if book.exists() else b"") != before
            )
            counts["fault without the file's name"] += (
                said != "done" and "notebook.yaml" not in said
            )
        counts["torn"] = len(load_notebook(book).faults)
        counts["lost"] = counts["had room"] - len(noted(place))
    finally:
        subprocess.run(["umount", str(place)], check=False)
    return dict(counts)


def read_only() -> dict[str, int]:
    """Files and folders that may not be written to; for root the folder's writes are tried as nobody."""
    counts = Counter[str]()
    for what in ("file", "folder"):
        folder = fresh()
        folder.parent.chmod(0o755)
        for path in (folder, *folder.iterdir()):
            path.chmod(0o555 if path.is_dir() else 0o444 if what == "file" else 0o644)
        before = (folder / "notebook.yaml").read_bytes()
        for work in (by_append, by_note):

            def save(work: Work = work, folder: Path = folder) -> None:
                if os.geteuid() == 0:
                    os.setuid(65534)
                work(folder, 1)

            said = in_child(save)
            counts["saves"] += 1
            counts["refused"] += said != "done"
            counts["fault without the file's name"] += "notebook.yaml" not in said
            counts["file touched"] += (folder / "notebook.yaml").read_bytes() != before
        folder.chmod(0o755)
        shutil.rmtree(folder.parent)
    return dict(counts)


def two_writers(each: int) -> dict[str, int]:
    """Three who add at once, one who reads: every reading is whole, every entry there once."""
    folder, counts = fresh(), Counter[str]()
    pids = []
    for k in range(3):
        pid = os.fork()
        if pid == 0:
            try:
                for n in range(each):
                    by_append(folder, k * each + n)
                os._exit(0)
            finally:
                os._exit(7)
        pids.append(pid)
    alive = set(pids)
    while alive:
        load = load_notebook(folder / "notebook.yaml")
        counts["readings meanwhile"] += 1
        counts["torn readings"] += bool(load.faults)
        alive -= {pid for pid in alive if os.waitpid(pid, os.WNOHANG)[0]}
    every = set(range(3 * each))
    counts.update(judged(folder, every, every))
    shutil.rmtree(folder.parent)
    return dict(counts)


def torn(step: int) -> dict[str, int]:
    """A notebook cut off at every so many bytes: all before the cut is read, and one may go on."""
    whole = (EXAMPLES / "heron_marsh" / "notebook.yaml").read_bytes()
    folder, counts = fresh(), Counter[str]()
    book = folder / "notebook.yaml"
    all_lines = load_notebook(book).lines
    for at in range(0, len(whole), step):
        cut = whole[:at]
        book.write_bytes(cut)
        line = cut.count(b"\n") + 1
        counts["cuts"] += 1
        began = [n for n in all_lines if n <= line]
        try:
            append_entry(book, Weigh(item="trust-1", mass=1))
            held = load_notebook(book)
        except InputError:
            counts["refused, untouched"] += book.read_bytes() == cut
            counts["lost"] += book.read_bytes() != cut
            continue
        counts["not kept to the letter"] += not book.read_bytes().startswith(cut)
        counts["lost"] += not set(began[:-1]) <= set(held.lines)
        counts["new entry lost"] += "trust-1" not in [getattr(e, "item", "") for e in held.entries]
    shutil.rmtree(folder.parent)
    return dict(counts)


def main() -> None:
    """All of it."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seed", type=int, default=16)
    parser.add_argument("--share", type=float, default=1.0, help="of the full counts")
    parser.add_argument("--only")
    given = parser.parse_args()
    rng = random.Random(given.seed)

    def of(many: int) -> int:
        return max(int(many * given.share), 2)

    # load what a first call loads, so that the children have it
    warm = fresh()
    for work in (by_note, by_append, by_report, by_list):
        work(warm, 0)
    shutil.rmtree(warm.parent)
    tasks: dict[str, Callable[[], dict[str, Any]]] = {
        "note, the whole command": lambda: kills_of_notes(by_note, of(120), 0.3, rng),
        "note, the save alone": lambda: kills_of_notes(by_append, of(140), 0.03, rng),
        "the page: shots and rig through HTTP": lambda: kills_of_the_page(of(120), rng),
        "report, the whole command": lambda: kills_of_outputs(
            by_report, "out.html", of(30), 3.0, rng
        ),
        "report, the write alone": lambda: kills_of_outputs(
            by_writing, "out.html", of(70), 0.03, rng
        ),
        "list, the whole command": lambda: kills_of_outputs(by_list, "out.csv", of(40), 0.6, rng),
        "disk full, a limit on the file": lambda: full(of(200), rng),
        "disk full, a small file system": lambda: full_device(of(150)),
        "read-only": read_only,
        "three writers at once": lambda: two_writers(of(100)),
        "torn end": lambda: torn(7 if given.share >= 1 else 70),
    }
    found: dict[str, Any] = {}
    for name, task in tasks.items():
        if given.only and given.only not in name:
            continue
        began = time.monotonic()
        found[name] = task()
        sys.stdout.write(f"{name}: {found[name]} ({time.monotonic() - began:.0f} s)\n")
        sys.stdout.flush()
    if given.share >= 1 and not given.only:
        kills = sum(one.get("kills", 0) for one in found.values())
        write(
            "kills",
            {"seed": given.seed, "kills": kills, "trials": found},
            "uvicorn",
            "starlette",
            "PyYAML",
        )


if __name__ == "__main__":
    main()
