"""Every route of the page with odd queries, forms, headers and methods: answered or refused, never 500.

Requests are drawn from a seed and sent in process; forms come from good ones with something put wrong. The files
must stay readable and the notebook must keep what it had. `python trust/fuzz_page.py --many 5000`.
"""

from __future__ import annotations

import argparse
import random
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

sys.path[:0] = [
    str(Path(__file__).resolve().parent),
    str(Path(__file__).resolve().parents[1] / "tests" / "web"),
]
import odd
from record import write
from starlette.testclient import TestClient
from web_kit import ADDRESS, ORIGIN, fill

from shaftwright.files.notebook import load_notebook
from shaftwright.files.rig import load_rig
from shaftwright.files.stock import load_stock
from shaftwright.web import changes, exports, launches, pages
from shaftwright.web.app import create_app
from shaftwright.web.forms import values_of
from shaftwright.web.guard import Door

VIEWS = [r.path for r in (*pages.ROUTES, *exports.ROUTES, *launches.ROUTES)]
POSTS = [r.path for r in changes.ROUTES]
NAMES = (*exports.OFFERED, "everything.zip", "x", "..", "%2e%2e%2frig.yaml", "rig.yaml%00", "")
#: how often: an ordered few take a second or more
HEAVY = {
    "/launch": 0.03,
    "/": 0.3,
    "/builds": 0.3,
    "/list": 0.3,
    "/next": 0.3,
    "/look": 0.3,
    "/rig/check": 0.5,
    "/files/{name}": 0.4,
}
QUERY = (
    "shaft",
    "length",
    "front",
    "kept_length",
    "arrows",
    "budget",
    "of",
    "noted",
    "saved",
    "twice",
    "point",
    "x",
    "key",
    "token",
)
SHOT = {"build.shaft": "MARSH-500", "build.length": "30", "build.point": "P175", "build.insert": "I25", "distance": "20",
        "reads": "straight", "date": "2026-05-02", "by": "names", "hit-kind": "bare", "hit-right": "3", "hit-up": "-1", "hit-tail": "right",
        "marks": "none", "piece": "1", "nock": "right", "remark": "a", "build.spine": "500", "build.front": "200", "taped": "1"}  # fmt: skip


def word(rng: random.Random) -> str:
    """A value of a query or a form, usual or odd."""
    if rng.random() < 0.5:
        return rng.choice(
            ("500", "29.5", "200", "MARSH-500", "P175", "28 in", "12", "100", "straight", "1")
        )
    return str(rng.choice(odd.VALUES))[:6000].encode(errors="replace").decode()


def request(
    rng: random.Random, token: str, rig: dict[str, str]
) -> tuple[str, str, dict[str, object]]:
    """Method, path and the rest of one request."""
    paths = VIEWS + POSTS
    path = rng.choices(paths, [HEAVY.get(p, 1.0) for p in paths])[0]
    method = "POST" if path in POSTS and (path not in VIEWS or rng.random() < 0.7) else "GET"
    if rng.random() < 0.03:
        method = rng.choice(("PUT", "DELETE", "HEAD", "OPTIONS", "PATCH", "GET", "POST", "X"))
    given: dict[str, object] = {
        "params": [(rng.choice(QUERY), word(rng)) for _ in range(rng.choice((0, 0, 1, 2, 4)))]
    }
    headers = dict(ORIGIN) if rng.random() < 0.97 else {"origin": "http://elsewhere.example"}
    if rng.random() < 0.05:
        headers[rng.choice(("sec-fetch-site", "x-part", "host", "content-type", "range", "accept", "cookie", "x-shaftwright-token"))] = rng.choice(
            ("cross-site", "1", "elsewhere.example", "text/plain", "bytes=0-", "*/*", "a=b", "multipart/form-data; boundary=x; charset=hex"))  # fmt: skip
    if method == "POST":
        good = (
            dict(SHOT)
            if path == "/shots"
            else dict(rig)
            if path.startswith("/rig")
            else {
                "what": rng.choice(("stock", "rig", "notebook", "x")),
                "starter": rng.choice(("", "1")),
            }
        )
        for _ in range(rng.choice((0, 1, 1, 2, 5))):
            good[rng.choice([*good, "x", "revision", "then"])] = word(rng)
        for _ in range(rng.choice((0, 0, 3, 10))):
            good.pop(rng.choice(list(good)), None) if good else None
        good["token"] = token if rng.random() < 0.97 else word(rng)
        given["data"] = good
        if path in ("/stock", "/files") and rng.random() < 0.7:
            text = (
                odd.of_text("item,kind\nA,shaft\n", rng)
                if rng.random() < 0.5
                else odd.of_yaml("- {kind: weigh, item: a, mass: 1}\n", rng)
            )
            given["files"] = {"file": ("f", text.encode("utf-8", "surrogatepass"))}
    given["headers"] = headers
    return method, path.replace("{name}", rng.choice(NAMES)), given


def main() -> None:
    """So many requests from a seed on."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--many", type=int, default=5000)
    parser.add_argument("--seed", type=int, default=3)
    parser.add_argument("--keep", action="store_true", help="write the counts")
    given = parser.parse_args()
    rng, began = random.Random(given.seed), time.monotonic()
    ended, wrong = Counter[str](), Counter[str]()
    routes: set[str] = set()
    folder = fill(Path(tempfile.mkdtemp(prefix="trust-")), notebook=True)
    door = Door()
    client = TestClient(
        create_app(folder, door),
        base_url=ADDRESS,
        follow_redirects=False,
        raise_server_exceptions=False,
    )
    rig = values_of(load_rig(folder / "rig.yaml").as_written())
    for n in range(given.many):
        if n % 200 == 0:
            fill(folder, notebook=True)  # a good beginning again
        book = (folder / "notebook.yaml").read_bytes()
        method, path, more = request(rng, door.token, rig)
        routes.add(f"{method} {path}")
        try:
            answer = client.request(method, path, **more)  # type: ignore[arg-type]
            ended[str(answer.status_code)] += 1
            told = "500" if answer.status_code >= 500 else ""
        except Exception as error:  # the client itself refuses to send what is no text
            ended["not sent"] += 1
            told = "" if isinstance(error, UnicodeError | ValueError) else repr(error)[:80]
        now = (folder / "notebook.yaml").read_bytes()
        if path == "/shots" and not now.startswith(book.rstrip(b"\n")):
            told = "the notebook was touched"
        if told:
            wrong[told] += 1
            sys.stdout.write(f"{n}: {method} {path} {told} {str(more)[:600]}\n")
    fine = 0
    for name, load in (
        ("rig.yaml", load_rig),
        ("stock.csv", load_stock),
        ("notebook.yaml", load_notebook),
    ):
        load(folder / name)
        fine += 1
    counts = {"seed": given.seed, "requests": given.many, "routes": len(routes), "ended": dict(sorted(ended.items())), "finds": dict(wrong),
              "files readable at the end": fine, "seconds": round(time.monotonic() - began)}  # fmt: skip
    sys.stdout.write(f"{counts}\n")
    if given.keep:
        write("fuzz_page", counts, "starlette", "python-multipart")


if __name__ == "__main__":
    main()
