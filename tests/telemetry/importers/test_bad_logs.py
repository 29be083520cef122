"""What is no log: one sentence that names the file, and the line where there is one, and says what to do."""

from __future__ import annotations

import pytest

from telemetry.errors import BadLog
from telemetry.importers.log import read_log

PICTURE = b"\x89PNG\r\n\x1a\n" + bytes(range(256)) * 8


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"", "the file is empty"),
        (b"\n\n  \n", "the file is empty"),
        (b"time (s),voltage (V),current (A)\n", "line 1: a header and no rows"),
        (PICTURE, "a PNG picture"),
        (bytes(range(1, 32)) * 40, "not text"),
        (
            b"The quick flight went well, and nobody was hurt.\nWe landed, and went home.\n" * 5,
            "no line holds a row of numbers",
        ),
        (b"a,b,c\nx,y,z\nu,v,w\nq,r,s\n", "no line holds a row of numbers"),
        (
            b"time (s),altitude (m)\n" + b"".join(b"%d,%d\n" % (i, i * i) for i in range(40)),
            "line 1: no column is a voltage",
        ),
        (
            b"voltage (V),current (A)\n" + b"".join(b"20.%d,%d\n" % (i % 9, i % 30) for i in range(60)),
            "no column is a time, and none counts rows or charge",
        ),
    ],
)
def test_what_is_no_log_is_refused_in_one_sentence(tmp_path, content, says):
    path = tmp_path / "mail.csv"
    path.write_bytes(content)
    with pytest.raises(BadLog) as caught:
        read_log(path)
    sentence = str(caught.value)
    assert sentence.startswith("mail.csv")
    assert says in sentence
    assert "\n" not in sentence
    assert caught.value.remedy.endswith(".")
    assert path.read_bytes() == content


def test_a_missing_file_and_a_folder_are_said(tmp_path):
    with pytest.raises(BadLog, match="there is no such file"):
        read_log(tmp_path / "nowhere.csv")
    with pytest.raises(BadLog, match="this is a folder"):
        read_log(tmp_path)


def test_a_log_that_only_counts_its_rows_has_no_clock(read):
    lines = "\n".join(f"{i},{20.9 - 0.01 * (i % 30):.2f},{i % 30}" for i in range(1, 200))
    trace = read("sample,pack voltage (V),pack current (A)\n" + lines)
    assert not trace.has_clock
    assert trace.time_s[:3].tolist() == [0, 1, 2]
    assert trace.gaps == ()
    assert trace.has("pack_voltage_v")


def test_a_rate_told_above_the_table_makes_a_clock(read):
    lines = "\n".join(f"{20.9 - 0.01 * (i % 30):.2f},{i % 30}" for i in range(200))
    trace = read("recorder test\nsample rate: 20 Hz\npack voltage (V),pack current (A)\n" + lines)
    assert trace.has_clock
    assert trace.sample_interval_s == pytest.approx(0.05)
