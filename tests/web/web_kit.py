"""What the tests of the page share: folders, a client that behaves like a browser, a reader of markup."""

from __future__ import annotations

import shutil
from html.parser import HTMLParser
from pathlib import Path

from starlette.testclient import TestClient

from shaftwright.web.app import create_app
from shaftwright.web.guard import Door

EXAMPLES = Path(__file__).parents[2] / "examples"
ADDRESS = "http://127.0.0.1:8417"
ORIGIN = {"origin": ADDRESS}
SMALL_STOCK = """\
item,kind,material,spine_mils,wood_spine_lb,gr_per_in,outside_diameter_in,inside_diameter_in,full_length_in,mass_gr,price,pack,in_hand,spine_tolerance_mils,mass_tolerance_gr,straightness_in,note
PLAIN-400,shaft,carbon,400,,8.3,0.295,0.246,32,,9.00,1,0,10,2,0.003,{note}
{shaft},shaft,carbon,500,,7.4,0.291,0.246,32,,9.00,1,2,10,2,0.003,
P150,point,,,,,,,,150,10.00,6,0,,,,
P175,point,,,,,,,,175,10.00,6,0,,,,
I25,insert,,,,,,0.246,,25,11.00,12,0,,,,
N246,nock,,,,,,0.246,,9,9.00,12,0,,,,
F3x4,fletching,,,,,,,,8,27.00,12,0,,,,
"""


def stock_text(shaft: str = "PLAIN-500", note: str = "") -> str:
    """A small stock with one name and one note of choice."""
    import csv
    import io

    def quoted(text: str) -> str:
        out = io.StringIO()
        csv.writer(out, lineterminator="").writerow([text])
        return out.getvalue()

    return SMALL_STOCK.replace("{shaft}", quoted(shaft)).replace("{note}", quoted(note))


def fill(folder: Path, notebook: bool = False, stock: str | None = None) -> Path:
    """The example rig with a small stock, and its notebook if wanted."""
    shutil.copy(EXAMPLES / "heron_marsh/rig.yaml", folder / "rig.yaml")
    (folder / "stock.csv").write_text(stock or stock_text(), encoding="utf-8")
    if notebook:
        shutil.copy(EXAMPLES / "heron_marsh/stock.csv", folder / "stock.csv")
        shutil.copy(EXAMPLES / "heron_marsh/notebook.yaml", folder / "notebook.yaml")
    return folder


def open_page(
    folder: Path, door: Door | None = None, address: str = ADDRESS
) -> tuple[TestClient, Door]:
    """A client of a page over a folder; redirects are not followed."""
    door = door or Door()
    return TestClient(create_app(folder, door), base_url=address, follow_redirects=False), door


class Reader(HTMLParser):
    """The elements of a page: what a browser would make of it."""

    def __init__(self, html: str) -> None:
        super().__init__(convert_charrefs=True)
        self.tags: list[tuple[str, tuple[str, ...]]] = []
        self.attributes: list[tuple[str, str, str]] = []
        self.inputs: list[dict[str, str]] = []
        self.options: list[tuple[str, list[tuple[str, str | None]]]] = []
        self.text: list[str] = []
        self.feed(html)
        self.close()

    def handle_starttag(self, tag, attrs):
        self.tags.append((tag, tuple(name for name, _ in attrs)))
        if tag == "input":
            self.inputs.append({name: value or "" for name, value in attrs})
        if tag == "option":
            self.options.append((tag, attrs))
        self.attributes += [(tag, name, value or "") for name, value in attrs]

    def handle_data(self, data):
        self.text.append(data)

    def handle_comment(self, data):
        self.tags.append(("comment", ()))

    @property
    def words(self) -> str:
        return " ".join("".join(self.text).split())

    def value(self, name: str) -> str:
        """The value of the first hidden or text input of a name."""
        return next(i["value"] for i in self.inputs if i.get("name") == name and "value" in i)
