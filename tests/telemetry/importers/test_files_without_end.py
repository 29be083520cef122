"""Files that no recorder writes: cells, rows and headings without end, odd line ends, hardly any samples."""

from __future__ import annotations

import random
from pathlib import Path

import pytest

import telemetry
from telemetry.errors import BadLog, SaglineError
from telemetry.importers.log import read_log
from telemetry.importers.text import bounds
from telemetry.limits import LOG_CELL_CHARACTERS, LOG_COLUMNS, LOG_ROWS, Limit

SAMPLES = Path(__file__).parents[3] / "sample_logs"
SHEET = telemetry.Sheet.read(SAMPLES / "saltmarsh_mail.toml")
MAIDEN = (SAMPLES / "maiden.csv").read_text(encoding="utf-8").splitlines()[:400]
HEADER = "time (s),pack voltage (V),pack current (A)"


def lines(count: int, *, time: str = "{:.1f}") -> list[str]:
    return [f"{time.format(0.1 * k)},20.{k % 9},{k % 30}" for k in range(count)]


def with_cell(line: int, column: int, text: str) -> str:
    rows = list(MAIDEN)
    fields = rows[line].split(",")
    rows[line] = ",".join([*fields[:column], text, *fields[column + 1 :]])
    return "\n".join(rows) + "\n"


def silent(row: str) -> str:
    return row.split(",")[0] + "," * row.count(",")


def refused(path: Path, content: str | bytes) -> str:
    path.write_bytes(content.encode() if isinstance(content, str) else content)
    with pytest.raises(BadLog) as caught:
        read_log(path)
    sentence = str(caught.value)
    assert "\n" not in sentence
    assert len(sentence) < 250
    assert caught.value.remedy.endswith(".")
    return sentence


@pytest.mark.parametrize("digits", [1001, 4301, 5000])
def test_a_row_with_a_cell_without_end_is_left_out_and_listed(read, digits):
    trace = read(with_cell(50, 3, "7" * digits))
    assert trace.time_s.size == len(MAIDEN) - 2
    assert [r.line for r in trace.sources[0].rejected] == [51]
    assert f"{digits} characters, where 1000 are the most" in trace.sources[0].rejected[0].reason


def test_a_cell_of_a_thousand_digits_is_no_reading(read):
    assert read(with_cell(50, 3, "7" * 1000)).time_s.size == len(MAIDEN) - 1


def test_whole_numbers_of_five_thousand_digits_in_every_row_are_refused(tmp_path):
    rows = [HEADER, *(f"{'1' * 4997}{k:03d},20.1,{k % 30}" for k in range(60))]
    assert "line 2: a cell has 5000 characters" in refused(tmp_path / "long.csv", "\n".join(rows))


@pytest.mark.parametrize(
    "heading", ["cell " + "1" * 5000 + " (V)", "cellvoltage" * 3000, "cell voltage " * 3000]
)
def test_a_heading_without_end_is_refused_with_its_column(tmp_path, heading):
    text = "\n".join([f"time (s),{heading},pack current (A)", *lines(60)])
    assert "line 1: the heading of column 2 has" in refused(tmp_path / "long.csv", text)


@pytest.mark.parametrize(
    "end", ["\x0b", "\x0c", "\x1c", "\x85", "\u2028", "\u2029"], ids=["VT", "FF", "FS", "NEL", "LS", "PS"]
)
def test_only_cr_and_lf_end_a_line(read, tmp_path, end):
    assert "fields, where 1,000 are the most" in refused(tmp_path / "ends.csv", end.join(MAIDEN))
    assert read("\n".join(f"{line}{end}" for line in MAIDEN)).time_s.size == len(MAIDEN) - 1
    assert read(with_cell(50, 3, f"20{end}1")).time_s.size == len(MAIDEN) - 1


def test_four_thousand_columns_are_refused_before_they_are_understood(tmp_path):
    for name in ("c{}", "cell {} (V)"):
        header = ["time (s)", *(name.format(i) for i in range(3999))]
        rows = [[f"{k}", *(f"{(k * i) % 97}" for i in range(3999))] for k in range(40)]
        text = "\n".join(",".join(row) for row in [header, *rows])
        assert "a row has 4,000 fields, where 1,000 are the most" in refused(tmp_path / "wide.csv", text)


def test_a_line_of_twenty_megabytes_is_refused_before_it_is_split(tmp_path):
    text = "\n".join([HEADER, *lines(3000), "1," * 10_000_000, *lines(60)])
    assert "line 3002: the line has 20,000,001 characters" in refused(tmp_path / "line.csv", text)
    assert "no line holds a row of numbers" in refused(tmp_path / "digits.csv", "1" * 20_000_000)


def test_more_lines_than_the_limit_are_refused_by_their_number(tmp_path):
    raw = b"\n" * (int(LOG_ROWS.value) + 1)
    said = refused(tmp_path / "rows.csv", "\n".join([HEADER, *lines(60)]).encode() + raw)
    assert "the file has 10,000,061 lines, where 10,000,000 are the most" in said


def test_a_file_beyond_the_limit_is_not_read_to_its_end(tmp_path):
    path = tmp_path / "large.csv"
    path.write_bytes(b"x" * 3_000_000)
    with pytest.raises(BadLog, match=r"large\.csv: the file holds more than 2 MB"):
        bounds.bytes_of(path, limit=Limit(2 * 2**20, "of this test"))


def test_limits_leave_room_for_what_recorders_write(read):
    wide = min(int(LOG_COLUMNS.value), 300)
    header = ",".join(["time (s)", "pack voltage (V)", *(f"channel {i}" for i in range(wide - 2))])
    rows = "\n".join(f"{0.1 * k:.1f},20.{k % 9}" + ",0" * (wide - 2) for k in range(40))
    assert len(read(f"{header}\n{rows}\n").sources[0].columns) == wide
    assert LOG_CELL_CHARACTERS.value < 4300, "Python reads no whole number of more digits"


@pytest.mark.parametrize(
    "text",
    [
        "\n".join(MAIDEN[:3]),
        "\n".join(MAIDEN[:4]),
        "\n".join([HEADER, *lines(2)]),
        "\n".join([HEADER, *lines(12)]),
        "\n".join(
            [
                MAIDEN[0],
                *(f"{row.split(',')[0]}{',' * row.count(',')}" for row in MAIDEN[1:30]),
                *MAIDEN[30:32],
            ]
        ),
        "\n".join(
            row.replace(row.split(",")[3], "" if k else "pack voltage (V)", 1) for k, row in enumerate(MAIDEN)
        ),
    ],
    ids=[
        "two rows",
        "three rows",
        "two rows of three",
        "a dozen",
        "two samples a channel",
        "an empty column",
    ],
)
def test_hardly_any_samples_make_a_review_with_and_without_a_sheet(read, text):
    trace = read(text)
    for sheet in (SHEET, None):
        found = telemetry.review(trace, sheet).to_dict()
        assert len(found["flights"]) == 1
        assert found["flights"][0]["decision"] != "clear"


@pytest.mark.parametrize(
    "text",
    [
        "\n".join(MAIDEN[:1]),
        "\n".join(MAIDEN[:2]),
        "pack voltage (V)\n" + "\n".join(f"20.{k % 9}" for k in range(60)),
        "\n".join([MAIDEN[0], *map(silent, MAIDEN[1:])]),
        "\n".join([MAIDEN[0], *(f"{row.split(',')[0]}{',nan' * row.count(',')}" for row in MAIDEN[1:])]),
        ",,,\n" * 50,
        '"',
        "\x00".join(MAIDEN[:50]),
    ],
    ids=[
        "header only",
        "one sample",
        "one column",
        "empty channels",
        "nan alone",
        "delimiters",
        "a quote",
        "NUL",
    ],
)
def test_nothing_to_review_is_one_sentence(tmp_path, text):
    assert refused(tmp_path / "little.csv", text).startswith("little.csv")


@pytest.mark.parametrize("moment", ["9999-12-31T23:59:59", "0001-01-01T00:00:00", "2262-04-12T00:00:00"])
def test_a_stamp_of_another_age_is_no_time(read, moment):
    trace = read(with_cell(50, 0, moment))
    assert trace.duration_s == pytest.approx(0.1 * (len(MAIDEN) - 2), abs=0.05)


def mutated(rng: random.Random, raw: bytes) -> bytes:
    """One to four changes of the sorts that break readers."""
    found = bytearray(raw)
    for _ in range(rng.randrange(1, 5)):
        at = rng.randrange(len(found)) if rng.random() < 0.7 else rng.randrange(min(600, len(found)))
        size = rng.choice([1, 1, 2, 8, 60, 900])
        match rng.randrange(7):
            case 0:
                found[at : at + size] = rng.randbytes(size)
            case 1:
                del found[at : at + size]
            case 2:
                found[at:at] = rng.choice(
                    [b'"', b",", b";", b"\n", b"\r", b"\x00", b"\x0b", b"[", b"'", b"="]
                )
            case 3:
                found[at:at] = b"9" * rng.choice([5, 20, 400, 5000])
            case 4:
                found[at:at] = rng.choice(
                    [b"1e308", b"-inf", b"nan", b"1e-320", "−٣".encode(), b"0x1F", b"\xff"]
                )
            case 5:
                found[at : at + size] = found[at : at + size] * rng.randrange(2, 5)
            case 6:
                del found[max(at, 200) :]
    return bytes(found)


LOGS = [p for p in sorted(SAMPLES.glob("*.csv")) if p.stem != "history"]


def survives(log: Path, seed: int, path: Path) -> None:
    """A trace or one sentence; pytest makes any warning an error."""
    rng = random.Random(f"{log.stem} {seed}")
    path.write_bytes(mutated(rng, b"".join(log.read_bytes().splitlines(keepends=True)[:150])))
    try:
        read_log(path)
    except SaglineError as error:
        assert "\n" not in str(error)


@pytest.mark.parametrize("log", LOGS, ids=lambda p: p.stem)
def test_a_mutated_log_is_read_or_refused(tmp_path, log):
    for seed in range(25):
        survives(log, seed, tmp_path / "mutated.csv")


@pytest.mark.parametrize(("name", "seed"), [("heavier_right_propeller", 42), ("on_skis", 193)])
def test_a_current_or_command_that_hardly_moves_is_like_nothing_and_warns_of_nothing(tmp_path, name, seed):
    survives(SAMPLES / f"{name}.csv", seed, tmp_path / "mutated.csv")


@pytest.mark.slow
@pytest.mark.parametrize("log", LOGS, ids=lambda p: p.stem)
def test_thousands_of_mutated_logs_are_read_or_refused(tmp_path, log):
    for seed in range(25, 1000):
        survives(log, seed, tmp_path / "mutated.csv")


@pytest.mark.slow
@pytest.mark.parametrize("log", LOGS, ids=lambda p: p.stem)
def test_what_is_still_read_of_a_mutated_log_is_reviewed(tmp_path, log):
    path = tmp_path / "mutated.csv"
    for seed in range(40):
        path.write_bytes(mutated(random.Random(f"review {log.stem} {seed}"), log.read_bytes()))
        try:
            telemetry.review(read_log(path), SHEET).to_dict()
        except SaglineError as error:
            assert "\n" not in str(error)
