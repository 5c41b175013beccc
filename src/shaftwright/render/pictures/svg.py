"""A drawing's SVG made fit to stand inside a page: ids of its own, plain attributes, colours as variables."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from collections.abc import Mapping
from typing import Final

_SVG: Final = "{http://www.w3.org/2000/svg}"
_XLINK_HREF: Final = "{http://www.w3.org/1999/xlink}href"
_HASHED: Final = re.compile(r"^(?:[pmh]|C[0-9a-f]+_[0-9a-f]+_)[0-9a-f]{10}$")
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
    root.extend(_inline(child, names, roles) for child in source if _wanted(child))
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


def _inline(element: ET.Element, names: dict[str, str], roles: Mapping[str, str]) -> ET.Element:
    """Copy an element: own ids, plain attributes for style, variables for colours."""
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
            attributes[key] = text
    copy = ET.Element(element.tag.removeprefix(_SVG), attributes)
    copy.text = element.text if element.tag == f"{_SVG}text" else None
    copy.extend(_inline(child, names, roles) for child in element)
    return copy
