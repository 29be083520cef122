"""A law that only its own test calls proves nothing of what the user is told."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

TELEMETRY = Path(__file__).parents[3] / "telemetry"
LAWS = sorted(
    (path.stem, node.name)
    for path in (TELEMETRY / "physics").glob("*.py")
    for node in ast.parse(path.read_text(encoding="utf-8")).body
    if isinstance(node, ast.FunctionDef) and not node.name.startswith("_")
)


def names_used(path: Path, *, but_of: str) -> set[str]:
    """Names that a file reads, the body of one of its own functions left out."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    kept = [n for n in tree.body if not (isinstance(n, ast.FunctionDef) and n.name == but_of)]
    found = [n for part in kept for n in ast.walk(part)]
    return {n.id for n in found if isinstance(n, ast.Name)} | {
        n.attr for n in found if isinstance(n, ast.Attribute)
    }


@pytest.mark.parametrize(("file", "law"), LAWS)
def test_every_physical_law_is_run_by_the_product(file, law):
    users = [p for p in TELEMETRY.rglob("*.py") if law in names_used(p, but_of=law)]
    assert users, f"{file}.{law} runs in tests only"
