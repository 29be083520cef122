"""The demo's logs: where they are, and how they are made again."""

from __future__ import annotations

import json
import shutil
import tempfile
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from telemetry.errors import BadUse
from telemetry.simulate import saltmarsh
from telemetry.simulate.csv_log import CsvDialect
from telemetry.simulate.fleet import FLEET
from telemetry.simulate.flight import Simulated, simulate
from telemetry.simulate.truth import Truth
from telemetry.whole_files import why_not

STORY: tuple[str, ...] = tuple(saltmarsh.SAMPLES)
"""Names of the samples, in the order of the story."""
WHOLE_STORY = "saltmarsh"
"""All of them, with sheet and history."""
SCENARIOS: tuple[str, ...] = (WHOLE_STORY, *FLEET, *STORY)
"""Every name that `write_samples` takes."""


@dataclass(frozen=True, slots=True)
class SampleLogs:
    """One sample: the logs of one flight, by file name, and the sheet's configuration and pack it was flown
    with.
    """

    name: str
    files: tuple[str, ...]
    configuration: str
    pack: str = ""


def _sample_logs(name: str) -> SampleLogs:
    sample = saltmarsh.SAMPLES[name]()
    return SampleLogs(name, tuple(file for file, _ in sample.files), sample.configuration, sample.pack)


SAMPLES: tuple[SampleLogs, ...] = tuple(_sample_logs(name) for name in STORY)
"""The samples, in the order of the story."""

SHEET = "saltmarsh_mail.toml"
HISTORY = "history.csv"
TRUTH = "saltmarsh_mail_truth.json"
INVENTED = (
    "Nobody built this aircraft and nobody flew it: the simulation made all of it, and this is what was true."
)
INVENTED_LOG = "# invented by sagline simulate; nobody flew it"
_BY_HAND = (SHEET, "README.md")


def sample_folder() -> Path:
    """The folder of the sample logs, in a checkout or in an installed wheel.

    Raises
    ------
    BadUse : this installation has none.
    """
    here = Path(__file__).resolve().parent
    for folder in (here / "sample_logs", here.parent / "sample_logs"):
        if (folder / SHEET).is_file():
            return folder
    raise BadUse(
        "this installation has no sample logs", "Install it again, or run 'sagline simulate -o DIR'."
    )


def write_samples(folder: Path, scenario: str | None = None) -> list[Path]:
    """Make the sample logs again, byte for byte.

    Parameters
    ----------
    folder : made if missing. A file of one of the names that is not the sample itself is never written over.
    scenario : one of `SCENARIOS`: the whole story, one aircraft of the fleet with its log, its sheet and the
        truth, or the logs of one sample alone. Without it the whole story.

    Returns
    -------
    The files written, in the order of the story.

    Raises
    ------
    BadUse : an unknown scenario, a folder that cannot be written to, or one with another file of the same
        name.
    """
    if scenario is not None and scenario not in SCENARIOS:
        raise BadUse(f"there is no scenario '{scenario}'", f"Known are {', '.join(SCENARIOS)}.")
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryDirectory(dir=folder, prefix=".making-") as made:
            return [_place(path, folder) for path in _make(Path(made), folder, scenario)]
    except OSError as error:
        raise BadUse(
            f"'{folder}' cannot be written to ({why_not(error)})", "Choose another folder."
        ) from None


def _make(made: Path, folder: Path, scenario: str | None) -> list[Path]:
    """The files in a folder of their own, once none of theirs is another file in the folder they go to."""
    if scenario in FLEET:
        written = _write_flown(made, scenario)
    else:
        written = [
            path
            for name in STORY
            if scenario in (None, WHOLE_STORY, name)
            for path in _write_logs(made, name)
        ]
    if scenario in (None, WHOLE_STORY):
        written += [_copy(name, made) for name in _BY_HAND]
        written.append(_write_history(made))
    if scenario == WHOLE_STORY:
        written.append(_write_truth(made / TRUTH, {name: _flown(name).truth for name in STORY}))
    for path in written:
        there = folder / path.name
        if there.exists() and not (there.is_file() and there.read_bytes() == path.read_bytes()):
            raise BadUse(
                "this is there already, and is not the sample",
                "Choose an empty folder, or remove it first.",
                file=path.name,
            )
    return written


def _place(path: Path, folder: Path) -> Path:
    return Path(shutil.move(path, folder / path.name))


def _write_flown(folder: Path, name: str) -> list[Path]:
    """One aircraft of the fleet: its log, its owner's sheet and what was true."""
    one = FLEET[name]()
    flown, sheet = simulate(one.scenario, seed=one.seed), folder / f"{name}.toml"
    sheet.write_bytes(one.sheet.encode())
    log = flown.write_csv(folder / f"{name}.csv", CsvDialect(preamble=(INVENTED_LOG,)))
    return [log, sheet, _write_truth(folder / f"{name}_truth.json", {name: flown.truth})]


def _write_truth(path: Path, flown: Mapping[str, Truth]) -> Path:
    content = {"invented": INVENTED, "flights": {name: truth.to_dict() for name, truth in flown.items()}}
    path.write_bytes((json.dumps(content, indent=1) + "\n").encode())
    return path


@lru_cache(maxsize=len(saltmarsh.SAMPLES))
def _flown(name: str) -> Simulated:
    sample = saltmarsh.SAMPLES[name]()
    return simulate(sample.scenario, seed=sample.seed)


def _write_logs(folder: Path, name: str) -> list[Path]:
    sample, flown = saltmarsh.SAMPLES[name](), _flown(name)
    return [
        flown.write_csv(folder / file, dialect, recorder=k) for k, (file, dialect) in enumerate(sample.files)
    ]


def _copy(name: str, folder: Path) -> Path:
    """Sheet and README are written by hand."""
    source, target = sample_folder() / name, folder / name
    if source.resolve() != target.resolve():
        shutil.copyfile(source, target)
    return target


def _write_history(folder: Path) -> Path:
    header = "date,duration_s,consumed_mah,configuration,put_back_mah,pack,temperature_c"
    rows = [_row(flown, 200 + k) for k, flown in enumerate(saltmarsh.PAST)]
    path = folder / HISTORY
    path.write_bytes(("\n".join([header, *rows]) + "\n").encode())
    return path


def _row(flown: saltmarsh.SampleFlight, seed: int) -> str:
    """One past flight. The charger puts back about 1 % more than left the pack, on scales of 10 mAh."""
    truth = simulate(saltmarsh.past_scenario(flown, seed), seed=seed).truth
    start_s, end_s = truth.powered_s or (truth.start_s, truth.end_s)
    put_back_mah = round(truth.consumed_mah * 1.01, -1)
    return (
        f"{flown.date},{end_s - start_s:.0f},{truth.consumed_mah:.0f},{flown.configuration},"
        f"{put_back_mah:.0f},,{flown.temperature_c:.0f}"
    )
