"""Texts that are no set-up sheet: too deep, too long, numbers without end."""

from __future__ import annotations

import random
import tracemalloc
from pathlib import Path

import pytest

from telemetry.errors import BadSheet
from telemetry.sheet import read_sheet

SAMPLE = Path(__file__).parents[3] / "sample_logs" / "saltmarsh_mail.toml"
PACK = "[pack]\ncells = 5\ncapacity_mah = 5200\n"


def refused(path: Path, text: str) -> str:
    path.write_bytes(text.encode("utf-8", "surrogatepass"))
    with pytest.raises(BadSheet) as caught:
        read_sheet(path)
    sentence = str(caught.value)
    assert "\n" not in sentence
    assert len(sentence) < 400
    return sentence


@pytest.mark.parametrize(
    "text",
    [
        "[" * 100_000,
        "x = " + "[" * 100_000,
        "x = " + "{a = " * 20_000,
        PACK + ".".join("a" * 20_000) + " = 1",
        PACK + " . ".join(['"a b"'] * 6000) + " = 1",
        "[" + ".".join("a" * 20_000) + "]",
    ],
    ids=["brackets", "lists", "inline tables", "dotted key", "quoted dotted key", "dotted table"],
)
def test_what_lies_too_deep_is_refused_in_little_memory(tmp_path, text):
    tracemalloc.start()
    said = refused(tmp_path / "deep.toml", text)
    _, most = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert "deep.toml: tables or lists lie more than 32 deep in one another" in said
    # the same texts took 1.5 GB
    assert most < 30e6


def test_brackets_and_dots_in_remarks_and_texts_are_not_counted(tmp_path):
    path = tmp_path / "remarks.toml"
    path.write_text(f'# {"[" * 50} {"a." * 50}\n{PACK}name = "{"[" * 50} {"a." * 50}"\n', encoding="utf-8")
    assert read_sheet(path).tables.pack.cells == 5


@pytest.mark.parametrize("number", ["1" * 5000, "1" * 4000, "0x" + "f" * 5000, "1" + "0" * 400])
@pytest.mark.parametrize("key", ["cells", "capacity_mah"])
def test_a_number_without_end_is_refused(tmp_path, number, key):
    others = "capacity_mah = 5200" if key == "cells" else "cells = 5"
    said = refused(tmp_path / "long.toml", f"[pack]\n{others}\n{key} = {number}\n")
    assert "a number here is longer than any that a sheet holds" in said


def test_a_text_larger_than_any_sheet_is_not_parsed(tmp_path):
    said = refused(tmp_path / "large.toml", PACK + "#" + "x" * 10_000_000)
    assert "the sheet has more than 256 kB" in said


@pytest.mark.parametrize(
    "text",
    [
        PACK + "k" * 200_000 + " = 1",
        '[pack]\ncells = "' + "x" * 200_000 + '"\ncapacity_mah = 5200\n',
        PACK + "[" + "k" * 200_000 + "]\n",
    ],
    ids=["key", "value", "table"],
)
def test_a_key_or_value_without_end_is_shown_by_its_beginning(tmp_path, text):
    refused(tmp_path / "long.toml", text)


@pytest.mark.parametrize("end", ["\x0b", "\x0c", "\x85", "\u2028", "\x00"])
def test_only_cr_and_lf_end_a_line(tmp_path, end):
    assert "this is not TOML" in refused(tmp_path / "ends.toml", PACK.replace("\n", end))


@pytest.mark.parametrize("first", [0, pytest.param(300, marks=pytest.mark.slow)])
def test_a_mutated_sheet_is_read_or_refused_in_one_sentence(tmp_path, first):
    path, raw = tmp_path / "mutated.toml", SAMPLE.read_bytes()
    pieces = [
        b"[",
        b"]",
        b"{",
        b"}",
        b'"',
        b"'",
        b"=",
        b".",
        b"#",
        b"\n",
        b"\x00",
        b"\xff",
        b"nan",
        b"inf",
        b"-",
        b"true",
    ]
    for seed in range(first, first * 20 + 300):
        rng = random.Random(seed)
        found = bytearray(raw)
        for _ in range(rng.randrange(1, 5)):
            at = rng.randrange(len(found))
            match rng.randrange(4):
                case 0:
                    found[at:at] = rng.choice(pieces)
                case 1:
                    del found[at : at + rng.choice([1, 3, 40])]
                case 2:
                    found[at:at] = b"9" * rng.choice([1, 30, 5000])
                case 3:
                    found[at : at + 4] = rng.randbytes(4)
        path.write_bytes(bytes(found))
        try:
            read_sheet(path)
        except BadSheet as error:
            assert "\n" not in str(error)
