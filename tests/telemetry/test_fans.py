"""An aircraft on ducted fans is spoken of as one, in findings, answers, prediction and card."""

import json
import re

import pytest

from dashboard.card import page
from telemetry import predict, read_log, review
from telemetry.debrief import next_timer
from telemetry.history import FlownDrive, FlownMotor, PastFlight
from telemetry.season.same_drive import difference, drive_of
from telemetry.sentences.fans import fan_words, of_fans
from telemetry.sheet import Sheet

KEYS = ("cause", "key", "propeller_power")


@pytest.fixture(scope="module")
def sheet(sample_logs):
    """The invented twin's, as if its propellers were ducted fans."""
    text = (sample_logs / "saltmarsh_mail.toml").read_text(encoding="utf-8")
    return Sheet.from_text(re.sub(r"pitch_in = .*\n", "ducted = true\n", text, count=1), file="fans.toml")


def sentences(thing, name=""):
    """Every text with more than one word below an object, but for names of files and columns."""
    if isinstance(thing, dict):
        for key, part in thing.items():
            if key not in ("sources", "made_by", "values"):
                yield from sentences(part, key)
    elif isinstance(thing, list):
        for part in thing:
            yield from sentences(part, name)
    elif isinstance(thing, str) and " " in thing:
        yield thing


def test_findings_and_answers_say_fan(sample_logs, sheet):
    found = review(read_log(sample_logs / "heavier_right_propeller.csv"), sheet).to_dict()
    said = list(sentences(found["flights"]))
    assert not [text for text in said if "ropeller" in text]
    (uneven,) = [f for f in found["flights"][0]["findings"] if f["key"] == "pair_uneven"]
    assert "fan" in uneven["message"] + uneven["evidence"]
    assert found["flights"][0]["motors"]["pairs"][0]["cause"] == "propeller", "a key, not a word"


def test_without_ducts_nothing_changes(sample_logs):
    sheet = Sheet.read(sample_logs / "saltmarsh_mail.toml")
    found = review(read_log(sample_logs / "heavier_right_propeller.csv"), sheet).to_dict()
    assert any("propeller" in text for text in sentences(found["flights"]))


def test_prediction_and_card_say_fan(sheet):
    setup = sheet.setup()
    found = predict(sheet)
    assert "ropeller" not in json.dumps([one.reason for one in found.assumed])
    past = [PastFlight(240.0, 2400.0 + 30.0 * k) for k in range(3)]
    card = page(found, setup, next_timer(setup, found, past, beside=True))
    words = re.sub(r"<[^>]*>|<style.*?</style>", " ", card, flags=re.S)
    assert "fan, rpm" in words and "propeller" not in words


def test_a_fan_is_another_drive_than_a_propeller_of_its_size(sheet):
    ours = drive_of(sheet.setup())
    assert all(motor.ducted for motor in ours.motors)
    open_blades = FlownDrive(
        motors=tuple(FlownMotor(m.position, diameter_m=m.diameter_m) for m in ours.motors)
    )
    assert difference(open_blades, ours) != ""


def test_words_are_changed_in_sentences_alone():
    assert fan_words("Propellers off; clear of the discs.") == "Fans off; clear of intake and jet."
    kept = (1.0, "propeller")
    assert of_fans(kept) is kept
