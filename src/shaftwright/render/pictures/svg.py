"""A drawing's SVG made fit to stand inside a page: ids of its own, plain attributes, colours as variables."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from collections.abc import Iterator, Mapping
from typing import Final

_SVG: Final = "{http://www.w3.org/2000/svg}"
_XLINK_HREF: Final = "{http://www.w3.org/1999/xlink}href"
_HASHED: Final = re.compile(r"^(?:[pmh]|C[0-9a-f]+_[0-9a-f]+_)[0-9a-f]{10}$")
_LONG: Final = re.compile(r"-?\d+\.\d{3,}")
#: attributes of coordinates, which need no more than hundredths of a pixel
_PLACES: Final = frozenset({"d", "x", "y", "points", "transform", "width", "height"})
_CURVED: Final = re.compile("[A-KN-Ya-y]")
_UNTURNED: Final = re.compile(r"rotate\(-?0 ")
_NUMBERED: Final = re.compile(r"_\d+$")


def inline_svg(
    drawn: str, figure_id: str, title: str, description: str, roles: Mapping[str, str]
) -> str:
    """One `<svg>` element; `roles` gives the CSS variable of a colour."""
    source = ET.fromstring(drawn)
    root = ET.Element(
        "svg",
        {
            "xmlns": "http://www.w3.org/2000/svg",
            "id": figure_id,
            "class": "sw-figure",
            "role": "img",
            "aria-labelledby": f"{figure_id}-title {figure_id}-desc",
            "viewBox": source.attrib["viewBox"],
            # Points of the drawing become pixels of the page.
            "width": source.attrib["width"].removesuffix("pt"),
            "height": source.attrib["height"].removesuffix("pt"),
            "font-family": "sans-serif",
            "stroke-linejoin": "round",
            "stroke-linecap": "butt",
        },
    )
    ET.SubElement(root, "title", {"id": f"{figure_id}-title"}).text = title
    ET.SubElement(root, "desc", {"id": f"{figure_id}-desc"}).text = description
    names = _names(source, figure_id)
    for child in filter(_wanted, source):
        root.extend(_inline(child, names, roles))
    return ET.tostring(root, encoding="unicode", short_empty_elements=True)


def _wanted(element: ET.Element) -> bool:
    if element.tag == f"{_SVG}metadata":
        return False
    # A style sheet inside an svg would apply to the whole page; the root says the same.
    return not any(child.tag == f"{_SVG}style" for child in element)


def _names(source: ET.Element, prefix: str) -> dict[str, str]:
    """New names for the ids worth keeping, by old name.

    Matplotlib numbers every artist and hashes what is defined once and used often; the hash
    changes with the last digit of a coordinate. Only what is used or named by the caller stays.
    """
    names: dict[str, str] = {}
    for element in source.iter():
        name = element.attrib.get("id", "")
        if _HASHED.search(name):
            names[name] = f"{prefix}-d{len(names) + 1}"
        elif name and not _NUMBERED.search(name):
            names[name] = f"{prefix}-{name}"
    return names


def _inline(
    element: ET.Element, names: dict[str, str], roles: Mapping[str, str]
) -> Iterator[ET.Element]:
    """Copy an element: own ids, plain attributes for style, variables for colours, no empty groups."""
    attributes: dict[str, str] = {}
    for name, value in element.attrib.items():
        if name == "style":
            declarations = (item.partition(":") for item in value.split(";"))
            pairs = [(key.strip(), text.strip()) for key, _, text in declarations]
        else:
            pairs = [("href" if name == _XLINK_HREF else name, value)]
        for key, text in pairs:
            if not key or key == "font-family" or (key == "id" and text not in names):
                continue
            if key == "id":
                text = names[text]
            elif key == "href":
                text = f"#{names[text.removeprefix('#')]}"
            elif text.startswith("url(#"):
                text = f"url(#{names[text.removeprefix('url(#').removesuffix(')')]})"
            elif key in ("fill", "stroke") and text in roles:
                text = f"var({roles[text]}, {text})"
            elif key in _PLACES:
                text = " ".join(_LONG.sub(_short, text).split())
            if key == "d" and not _CURVED.search(text):
                text = text.replace(" L ", " ")  # what follows a move is a line
            if not (key == "transform" and _UNTURNED.match(text)):
                attributes[key] = text
    children = [copy for child in element for copy in _inline(child, names, roles)]
    if element.tag == f"{_SVG}g" and not attributes:
        yield from children
        return
    copy = ET.Element(element.tag.removeprefix(_SVG), attributes)
    copy.text = element.text if element.tag == f"{_SVG}text" else None
    copy.extend(children)
    yield copy


def _short(number: re.Match[str]) -> str:
    return f"{float(number[0]):.2f}".rstrip("0").rstrip(".")
