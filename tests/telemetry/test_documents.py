"""README and DEVELOPERS say what the program does."""

from __future__ import annotations

import re
from pathlib import Path

from typer.main import get_command

from telemetry.cli import app
from telemetry.finding_table import KINDS
from telemetry.quantities import QUANTITIES

ROOT = Path(__file__).parents[2]


def table(text: str, head: str) -> list[list[str]]:
    lines = text[text.index(head) :].splitlines()[2:]
    rows = []
    for line in lines:
        if not line.startswith("|"):
            break
        rows.append([cell.strip().replace("\\|", "|") for cell in re.split(r"(?<!\\)\|", line)[1:-1]])
    return rows


def test_the_quantity_table_is_the_list_of_quantities():
    rows = table(
        (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8"), "| quantity | unit | positions | convention |"
    )
    assert rows == [[f"`{q.name}`", q.unit, q.positions, q.convention] for q in QUANTITIES.values()]


def test_the_table_of_findings_is_the_list_of_findings():
    rows = table(
        (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8"),
        "| finding | severity | when | whose | cleared by |",
    )
    assert rows == [
        [f"`{k.key}`", " or ".join(k.severities), k.applies, k.whose, k.cleared_by] for k in KINDS.values()
    ]


def test_every_command_has_its_line_in_the_readme_as_its_help_has_it():
    commands = get_command(app).commands
    rows = table((ROOT / "README.md").read_text(encoding="utf-8"), "| command | what it does |")
    written = {row[0].strip("`").split()[1]: row[1] for row in rows}
    assert written == {name: command.help.split("\n")[0].strip() for name, command in commands.items()}


def test_the_commands_of_the_contract_are_there():
    expected = {
        "demo",
        "review",
        "columns",
        "predict",
        "recalibrate",
        "timer",
        "keep",
        "flights",
        "edit",
        "aircraft",
        "packs",
        "remove",
        "restore",
        "compare",
        "check",
        "export",
        "report",
        "serve",
        "simulate",
    }
    assert set(get_command(app).commands) == expected


def test_every_option_has_a_help_text():
    for name, command in get_command(app).commands.items():
        for parameter in command.params:
            assert getattr(parameter, "help", None) or parameter.name == "help", f"{name}: {parameter.name}"


def test_readme_and_developers_name_files_that_exist():
    for document in ("README.md", "DEVELOPERS.md"):
        text = (ROOT / document).read_text(encoding="utf-8")
        for path in re.findall(r"`((?:sample_logs|tests|telemetry|dashboard)/[\w./]*)`", text):
            assert (ROOT / path).exists(), f"{document}: {path}"
