"""Our one component of our own: markup that Dash has no element for."""

from __future__ import annotations

from dash.development.base_component import Component


class Markup(Component):
    """A block that holds markup as it is: an SVG drawing that the style sheet must reach, or a native form
    control.

    The text comes from the SVG pen or from our own constants; names from a log are escaped before they get
    here.

    Parameters
    ----------
    markup : elements.
    className : classes of the block.
    """

    _children_props: tuple[str, ...] = ()
    _base_nodes: tuple[str, ...] = ()
    _namespace = "sagline"
    _type = "Markup"

    def __init__(self, markup: str = "", className: str = "", id: str | None = None) -> None:  # noqa: N803
        self._prop_names = ["markup", "className", "id"]
        self._valid_wildcard_attributes: list[str] = []
        self.available_properties = self._prop_names
        self.available_wildcard_attributes: list[str] = []
        given = {"markup": markup, "className": className} | ({"id": id} if id else {})
        super().__init__(**given)
