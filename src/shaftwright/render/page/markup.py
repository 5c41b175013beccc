"""HTML by construction: what people wrote is always text, never markup."""

from __future__ import annotations

import html
from collections.abc import Iterable, Sequence
from typing import Final

from shaftwright.errors import printable

_VOID: Final = frozenset({"br", "hr", "meta", "col"})
_ATTRIBUTES: Final = frozenset(
    {"id", "class", "href", "lang", "scope", "colspan", "role", "tabindex", "open", "name", "content",
     "charset", "http-equiv", "aria-label", "aria-labelledby", "aria-hidden", "datetime", "start"}
)  # fmt: skip


class Markup(str):
    """Text that is markup already; only this module makes it."""

    __slots__ = ()


def text(value: object) -> Markup:
    """Any value as text of a page: escaped, without control or writing-direction characters.

    Parameters
    ----------
    value : object
        Markup stays as it is.

    Returns
    -------
    Markup
        Safe inside an element or a quoted attribute.

    Examples
    --------
    >>> text('<b> & "c"')
    '&lt;b&gt; &amp; &quot;c&quot;'
    """
    if isinstance(value, Markup):
        return value
    return Markup(html.escape(printable(str(value)), quote=True))


def element(tag: str, *children: object, **attributes: str | None) -> Markup:
    """One element; children that are not markup are escaped, None is left out.

    Parameters
    ----------
    tag : str
        Its name.
    *children : object
        Markup, text, numbers, or None.
    **attributes : str or None
        A trailing underscore is dropped and inner ones become hyphens; None is left out.

    Returns
    -------
    Markup
        The element.

    Raises
    ------
    ValueError
        An attribute that could carry script or style, or a link that leaves the page.

    Examples
    --------
    >>> element("p", "5 < 6", class_="told")
    '<p class="told">5 &lt; 6</p>'
    """
    written = ""
    for key, value in attributes.items():
        name = key.rstrip("_").replace("_", "-")
        if name not in _ATTRIBUTES or (name == "href" and not str(value).startswith("#")):
            raise ValueError(f"attribute {name} is not allowed in a report")
        if value is not None:
            written += f' {name}="{text(value)}"'
    if tag in _VOID:
        return Markup(f"<{tag}{written}>")
    inside = "".join(text(child) for child in children if child is not None)
    return Markup(f"<{tag}{written}>{inside}</{tag}>")


def join(parts: Iterable[Markup | None], between: str = "") -> Markup:
    """Markup put together; None is left out.

    Parameters
    ----------
    parts : iterable of Markup or None
        The parts.
    between : str
        Text between them, escaped.

    Returns
    -------
    Markup
        All of them.
    """
    return Markup(str(text(between)).join(part for part in parts if part is not None))


def items(lines: Iterable[object], tag: str = "ul", **attributes: str | None) -> Markup | None:
    """A list, or None without lines.

    Parameters
    ----------
    lines : iterable
        Markup or text.
    tag : str
        ul or ol.
    **attributes : str or None
        Of the list.

    Returns
    -------
    Markup or None
        The list.
    """
    found = [element("li", line) for line in lines]
    return element(tag, *found, **attributes) if found else None


def table(
    caption: str, headers: Iterable[object], rows: Iterable[Sequence[object]], under: Iterable[object] = (),
    **attributes: str | None,
) -> Markup:  # fmt: skip
    """A table whose first column heads its rows.

    Parameters
    ----------
    caption : str
        What it shows.
    headers : iterable
        One for each column; a pair (text, class) marks the column.
    rows : iterable of rows
        Cells.
    under : iterable
        What stands under each row in its whole width, if anything.
    **attributes : str or None
        Of the table.

    Returns
    -------
    Markup
        The table, in a frame that scrolls where it is too wide.
    """
    heads = [h if isinstance(h, tuple) else (h, None) for h in headers]
    head = element("tr", *(element("th", h, scope="col", class_=c) for h, c in heads))
    below = list(under)
    body = []
    for number, row in enumerate(rows):
        cells = [
            element("th", cell, scope="row", class_=kind)
            if column == 0
            else element("td", cell, class_=kind)
            for column, (cell, (_, kind)) in enumerate(zip(row, heads, strict=True))
        ]
        body.append(element("tr", *cells))
        if below:
            wide = element("td", below[number], colspan=str(len(heads)))
            body.append(element("tr", wide, class_="under"))
    inside = element(
        "table", element("caption", caption), element("thead", head), element("tbody", *body), **attributes
    )  # fmt: skip
    return element("div", inside, class_="wide", role="region", tabindex="0", aria_label=caption)


def trusted(markup: str) -> Markup:
    """Markup made by the house itself, such as a picture of `show.figure`.

    Parameters
    ----------
    markup : str
        Never text that somebody wrote.

    Returns
    -------
    Markup
        As it is.
    """
    return Markup(markup)
