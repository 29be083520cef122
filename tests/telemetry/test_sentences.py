"""The words of findings, answers and headlines."""

from __future__ import annotations

import ast
import string
from itertools import takewhile
from pathlib import Path

import pytest

from telemetry import errors
from telemetry.finding_table import KINDS
from telemetry.importers.columns.reasons import PLACED, TIES
from telemetry.importers.units import vocabulary_file
from telemetry.sentences import clock, counted, rating_words, spoken_time, with_limits, words

FINDINGS = sorted(words()["findings"])
FIGURES = (
    "_v",
    "_a",
    "_s",
    "_mah",
    "_c",
    "low",
    "high",
    "value",
    "ratio",
    "margin",
    "left",
    "reserve",
    "residual",
)


def fields(template: str) -> list[tuple[str, str]]:
    return [(name, spec or "") for _, name, spec, _ in string.Formatter().parse(template) if name]


@pytest.mark.parametrize("key", FINDINGS)
def test_every_finding_says_what_happened_what_to_do_and_how_it_is_known(key):
    found = words()["findings"][key]
    assert {"title", "action", "evidence"} <= set(found) <= {"title", "action", "evidence", "why"}
    assert found["title"].endswith(".")


@pytest.mark.parametrize("key", FINDINGS)
def test_no_figure_is_written_without_its_number_of_decimals(key):
    for part in ("title", "action", "evidence"):
        for name, spec in fields(words()["findings"][key][part]):
            assert spec or not name.endswith(FIGURES), f"{key}.{part}: {name} has no format"


def test_times_are_said_as_on_a_watch_and_in_words():
    assert clock(255) == "4:15"
    assert clock(59.6) == "1:00"
    assert spoken_time(255) == "4 min 15 s"
    assert spoken_time(240) == "4 min"
    assert spoken_time(45) == "45 s"


@pytest.mark.parametrize(
    ("figures", "decimals", "written"),
    [
        ((1.068, 1.062, 1.073), 2, "1.068 (1.062–1.073)"),
        ((1.45, 1.41, 1.49), 2, "1.45 (1.41–1.49)"),
        ((18.81, 18.78, 18.84), 1, "18.81 (18.78–18.84)"),
        ((2684.4, 2683.9, 2684.9), 0, "2684 (2684–2685)"),
        ((3.0, 3.0, 3.0), 1, "3.0 (3.0–3.0)"),
        ((-2165.0, -2482.0, -1859.0), 0, "−2165 (−2482 to −1859)"),
        ((0.4, -0.2, 1.0), 1, "0.4 (−0.2 to 1.0)"),
    ],
)
def test_limits_have_the_digits_they_need_and_no_dash_before_a_minus(figures, decimals, written):
    value, low, high = figures
    assert with_limits(value, low, high, decimals=decimals) == written


def test_numbers_of_things_are_said_in_words():
    assert counted("checks_before", count=0) == "Nothing in this log speaks against the next flight"
    assert counted("checks_before", count=1) == "One check before the next flight"
    assert counted("checks_before", count=2) == "Two checks before the next flight"
    assert counted("often", count=2) == "twice"
    assert counted("flights", count=13) == "13 flights"


def test_ratings_are_named_as_the_trade_does():
    assert rating_words("left motor, steadily") == "left motor, continuous"
    assert rating_words("pack, 10 s") == "pack, burst (10 s)"


def test_every_finding_in_the_table_has_words_and_every_word_its_finding():
    assert set(FINDINGS) == set(KINDS)
    for key, kind in KINDS.items():
        assert ("why" in words()["findings"][key]) == (kind.severities != ("note",)), key


def test_another_language_has_every_key_of_english():
    folder = Path(__file__).parents[2] / "telemetry" / "sentences"
    for other in folder.glob("*.toml"):
        assert keys(words(other.stem)) == keys(words("en")), other.name


def keys(table: dict, prefix: str = "") -> set[str]:
    found: set[str] = set()
    for key, value in table.items():
        found |= keys(value, f"{prefix}{key}.") if isinstance(value, dict) else {prefix + key}
    return found


def test_nobody_is_told_that_all_is_optimal():
    text = (Path(__file__).parents[2] / "telemetry" / "sentences" / "en.toml").read_text(encoding="utf-8")
    for never in ("OK", "optimal", "score", "!"):
        assert never not in text


TELEMETRY = Path(__file__).parents[2] / "telemetry"
NO_SENTENCES = (
    "cli",  # a screen of its own: help texts and tables
    "finding_table.py",  # clauses for developers, as in quantities and limits
    "history.py",  # errors alone
    "limits.py",
    "logbook/schema.py",  # SQL
    "physics",
    "quantities.py",
    "sheet",  # errors, and the commented sheet
    "simulate",  # what its CSV files say
)


def said_in_code(tree: ast.AST, *, most_words: int = 3) -> list[str]:
    """Literals of more than three words that are no documentation, no pattern and no part of an error."""
    skipped: set[int] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant):
            skipped.add(id(node.value))
        elif isinstance(node, ast.JoinedStr):
            skipped |= {id(part) for part in node.values}
        elif isinstance(node, ast.Raise) or (
            isinstance(node, ast.Call) and (is_error(node.func) or ast.unparse(node.func) == "re.compile")
        ):
            skipped |= {id(part) for part in ast.walk(node)}
    texts = [text_of(node) for node in ast.walk(tree) if id(node) not in skipped]
    return [t for t in texts if sum(any(c.isalpha() for c in word) for word in t.split()) > most_words]


def is_error(called: ast.expr) -> bool:
    found = getattr(errors, called.id, None) if isinstance(called, ast.Name) else None
    return isinstance(found, type) and issubclass(found, Exception)


def text_of(node: ast.AST) -> str:
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        return node.value
    if isinstance(node, ast.JoinedStr):
        return "".join(p.value if isinstance(p, ast.Constant) else "…" for p in node.values)
    return ""


def room(path: Path) -> str:
    return path.relative_to(TELEMETRY).as_posix()


SPEAKING = [p for p in sorted(TELEMETRY.rglob("*.py")) if not room(p).startswith(NO_SENTENCES)]


@pytest.mark.parametrize("path", SPEAKING, ids=room)
def test_what_is_said_to_people_stands_in_the_sentences(path):
    assert said_in_code(ast.parse(path.read_text(encoding="utf-8"))) == []


def test_a_sentence_in_code_would_be_found():
    assert said_in_code(ast.parse('"""Doc of many words here."""\nUndecided("the log has no current")'))
    assert said_in_code(ast.parse('finding(message=f"cell {n} is weak and old")'))
    assert not said_in_code(ast.parse('raise BadUse("the log is not of this aircraft")'))
    assert not said_in_code(ast.parse('problem = BadUse("the log is not of this aircraft")'))


@pytest.mark.parametrize("path", sorted(TELEMETRY.rglob("*.py")), ids=room)
def test_every_sentence_that_code_names_is_there(path):
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        name = node.func.id if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) else ""
        if name not in ("say", "counted", "undecided"):
            continue
        at = words()["undecided"] if name == "undecided" else words()
        for step in takewhile(lambda a: isinstance(a, ast.Constant), node.args):
            assert step.value in at, (
                f"{room(path)}: {[a.value for a in node.args if isinstance(a, ast.Constant)]}"
            )
            at = at[step.value]


def test_every_column_that_is_set_aside_and_every_unit_that_is_found_says_why():
    said = words()["importers"]["columns"]
    assert set(said["aside"]) == {*vocabulary_file()["aside"], "controller_voltage"}
    assert {(tie, quantity) for tie, of in said["ties"].items() for quantity in of} == set(TIES)
    assert set(said["places"]) == set(PLACED)


def test_counted_forms_are_whole():
    def tables(table):
        yield table
        for value in table.values():
            if isinstance(value, dict):
                yield from tables(value)

    for table in tables(words()):
        assert "one" not in table or "many" in table


WORDS_OF_THE_TRADE = (
    "held still",
    "spun free",
    "steadily",
    "for a while",
    "min⁻¹",
    "× capacity",
    "pulls harder",
    "Fly again",
    "for ever",
    "in front",
    "Mend",
    "nobody built",
    "full reverse",
)


@pytest.mark.parametrize("file", ["telemetry/sentences/en.toml", "dashboard/texts/en.toml"])
def test_texts_keep_to_the_words_of_the_trade(file):
    text = (TELEMETRY.parent / file).read_text(encoding="utf-8")
    assert [w for w in WORDS_OF_THE_TRADE if w.casefold() in text.casefold()] == []
