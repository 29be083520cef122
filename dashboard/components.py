"""Our one component of our own: markup that the page's style sheet must reach, such as an SVG drawing."""

from __future__ import annotations

from dash.development.base_component import Component


class Svg(Component):
    """A block that holds SVG text as it is. The text comes from the SVG pen, which escapes every name in it.

    Parameters
    ----------
    markup : SVG elements.
    className : classes of the block.
    """

    _children_props: tuple[str, ...] = ()
    _base_nodes: tuple[str, ...] = ()
    _namespace = "sagline"
    _type = "Svg"

    def __init__(self, markup: str = "", className: str = "", id: str | None = None) -> None:  # noqa: N803
        self._prop_names = ["markup", "className", "id"]
        self._valid_wildcard_attributes: list[str] = []
        self.available_properties = self._prop_names
        self.available_wildcard_attributes: list[str] = []
        given = {"markup": markup, "className": className} | ({"id": id} if id else {})
        super().__init__(**given)
