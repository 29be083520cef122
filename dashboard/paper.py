"""A page's tree of components → HTML text, so that page and printed report are described once."""

from __future__ import annotations

import re
from collections.abc import Iterable
from html import escape
from typing import Any

from dash.development.base_component import Component

from dashboard.components import Markup

_NAMES = {
    "className": "class",
    "htmlFor": "for",
    "tabIndex": "tabindex",
    "colSpan": "colspan",
    "rowSpan": "rowspan",
    "autoComplete": "autocomplete",
}
_EMPTY = {"input", "br", "img", "hr", "meta", "link"}
_SKIPPED = {"children", "id", "n_clicks"}


def html_text(node: Any) -> str:
    """The tree below a node as HTML, every text escaped.

    Only `dash.html` elements and our SVG block can be written; what needs a script has no place on paper.

    Raises
    ------
    TypeError : a component of another kind.
    """
    if node is None:
        return ""
    if isinstance(node, str | int | float):
        return escape(str(node), quote=False)
    if isinstance(node, Component):
        return _element(node)
    if isinstance(node, Iterable):
        return "".join(html_text(child) for child in node)
    raise TypeError(f"{type(node).__name__} cannot be written on paper")


def with_own_ids(text: str, prefix: str) -> str:
    """HTML of one of several alike, each id in it and each reference to one begun with a prefix of its
    own.
    """
    found = re.sub(r'(\bid="|href="#|url\(#)', rf"\g<1>{prefix}", text)
    return re.sub(
        r'aria-labelledby="([^"]*)"',
        lambda m: 'aria-labelledby="' + " ".join(prefix + one for one in m[1].split()) + '"',
        found,
    )


def _element(node: Component) -> str:
    if isinstance(node, Markup):
        return (
            f'<div class="{escape(node.className, quote=True)}">{node.markup}</div>'
            if node.className
            else str(node.markup)
        )
    if node._namespace != "dash_html_components":
        raise TypeError(f"{node._type} cannot be written on paper")
    tag = node._type.lower()
    attributes = "".join(_attributes(node))
    if tag in _EMPTY:
        return f"<{tag}{attributes}>"
    return f"<{tag}{attributes}>{html_text(getattr(node, 'children', None))}</{tag}>"


def _attributes(node: Component) -> Iterable[str]:
    ident = getattr(node, "id", None)
    if isinstance(ident, str):
        yield f' id="{escape(ident, quote=True)}"'
    for name, value in node.to_plotly_json()["props"].items():
        if name in _SKIPPED or value is None or value is False:
            continue
        if name == "style":
            value = ";".join(
                f"{re.sub('([A-Z])', lambda m: '-' + m[1].lower(), k)}:{v}" for k, v in value.items()
            )
        written = _NAMES.get(name, name.lower() if not name.startswith(("aria-", "data-")) else name)
        yield f" {written}" if value is True else f' {written}="{escape(str(value), quote=True)}"'
