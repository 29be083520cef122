"""The colours of light paper, and which of them each role of a mark has.

Plotly takes no CSS variable as a colour, so a role names the variable, and its colour is
looked up here.
"""

from __future__ import annotations

LIGHT = {
    "--ink": "#15191c",
    "--ink-2": "#454d53",
    "--ink-3": "#5d666c",
    "--pencil": "#6b757b",
    "--band": "#e3e7e8",
    "--band-2": "#cfd6d8",
    "--hair": "#dde1df",
    "--left": "#0a5f9e",
    "--right": "#a35200",
    "--left-wash": "#d9e8f3",
    "--right-wash": "#faecde",
    "--red": "#b0202a",
    "--red-wash": "#fbeceb",
    "--hatch": "#565e63",
    "--control": "#6d767b",
    "--paper": "#fdfdfb",
}
FONT = (
    'Bahnschrift, "Avenir Next Condensed", "Roboto Condensed", "Liberation Sans Narrow", "Arial Narrow", '
    '"DejaVu Sans Condensed", sans-serif'
)
CLEAR = "rgba(0,0,0,0)"

LINE: dict[str, tuple[str, float, str]] = {
    "ink": ("--ink", 1.5, "solid"),
    "bold": ("--ink", 2.25, "solid"),
    "fine": ("--ink", 1.1, "solid"),
    "pencil": ("--pencil", 1.5, "5px,3.5px"),
    "left": ("--left", 1.6, "solid"),
    "right": ("--right", 1.6, "solid"),
    "red": ("--red", 2.25, "solid"),
    "thin": ("--ink-3", 1.0, "solid"),
    "dotted": ("--ink-2", 1.5, "2px,3px"),
}
FILL = {
    "band": "--band",
    "core": "--band-2",
    "sag": "--band",
    "sag_red": "--red-wash",
    "left": "--left-wash",
    "right": "--right-wash",
}
WORD = {
    "label": "--ink",
    "quiet": "--ink-2",
    "strong": "--ink",
    "red": "--red",
    "left": "--left",
    "right": "--right",
}
BOLD = {"strong", "red", "left", "right"}
DOT = {
    "dot": ("--ink", "circle"),
    "hollow": ("--ink", "circle-open"),
    "ring": ("--red", "circle-open"),
    "red": ("--red", "circle"),
    "left": ("--left", "circle"),
    "right": ("--right", "circle"),
}
BAR = {"ink": "--ink", "red": "--red", "left": "--left", "right": "--right", "pencil": "--pencil"}
RULE = {
    "grid": ("--hair", 1.0, "solid"),
    "centre": ("--ink", 1.0, "16px,3.5px,3px,3.5px"),
    "ink": ("--ink", 2.25, "solid"),
    "leader": ("--ink-3", 0.8, "solid"),
}
