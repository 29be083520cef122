"""Every function that the rooms below the analyses offer is described in full."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

TELEMETRY = Path(__file__).parents[2] / "telemetry"
DESCRIBED = (
    *sorted((TELEMETRY / "signals").rglob("*.py")),
    TELEMETRY / "trace.py",
    TELEMETRY / "derived.py",
    TELEMETRY / "finding_table.py",
    TELEMETRY / "made.py",
    TELEMETRY / "put_back.py",
    TELEMETRY / "physics" / "open_circuit.py",
)
Function = ast.FunctionDef | ast.AsyncFunctionDef


def offered(tree: ast.AST, prefix: str = "") -> Iterator[tuple[str, Function]]:
    """Public functions and methods with their names; properties are described as attributes are."""
    for node in ast.iter_child_nodes(tree):
        name = getattr(node, "name", "_")
        if name.startswith("_"):
            continue
        if isinstance(node, ast.ClassDef):
            yield from offered(node, f"{name}.")
        elif isinstance(node, Function) and "property" not in map(ast.unparse, node.decorator_list):
            yield prefix + name, node


def section(text: str, title: str) -> str:
    """The lines under an underlined title, "" without it."""
    found = re.search(rf"^{title}\n-+\n(.*?)(?=^\w[^\n]*\n-+\n|\Z)", text, re.MULTILINE | re.DOTALL)
    return found[1] if found else ""


def parameters(node: Function) -> set[str]:
    """Every parameter but `self` and `cls`."""
    given = node.args
    every = (*given.posonlyargs, *given.args, *given.kwonlyargs, given.vararg, given.kwarg)
    return {a.arg for a in every if a is not None} - {"self", "cls"}


def undescribed(node: Function) -> list[str]:
    """What a docstring leaves out."""
    text = ast.get_docstring(node) or ""
    names = re.findall(r"^(\w[\w, ]*) : ", section(text, "Parameters"), re.MULTILINE)
    described = {name for line in names for name in line.split(", ")}
    missing = sorted(parameters(node) ^ described)
    gives = node.returns is not None and ast.unparse(node.returns) != "None"
    if gives and not section(text, "Returns") and not section(text, "Yields"):
        missing.append("Returns")
    if any(isinstance(part, ast.Raise) for part in ast.walk(node)) and not section(text, "Raises"):
        missing.append("Raises")
    return missing


FUNCTIONS = [
    pytest.param(node, id=f"{path.relative_to(TELEMETRY).as_posix()}:{name}")
    for path in DESCRIBED
    for name, node in offered(ast.parse(path.read_text(encoding="utf-8")))
]


@pytest.mark.parametrize("node", FUNCTIONS)
def test_a_public_function_describes_its_parameters_its_result_and_its_errors(node):
    assert undescribed(node) == []


def test_a_parameter_that_is_not_described_would_be_found():
    text = '''def f(a, *, b=1) -> int:
    """Something.

    Parameters
    ----------
    a, c : numbers.
    """
    raise ValueError
'''
    assert undescribed(ast.parse(text).body[0]) == ["b", "c", "Returns", "Raises"]
