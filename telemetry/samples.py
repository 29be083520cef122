"""The demo's logs: where they are, and how they are made again."""

from __future__ import annotations

import shutil
import tempfile
from dataclasses import dataclass
from pathlib import Path

from telemetry.errors import BadUse
from telemetry.simulate import saltmarsh
from telemetry.simulate.flight import simulate
from telemetry.whole_files import why_not

SCENARIOS: tuple[str, ...] = tuple(saltmarsh.SAMPLES)
"""Names of the scenarios, in the order of the story."""


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


SAMPLES: tuple[SampleLogs, ...] = tuple(_sample_logs(name) for name in SCENARIOS)
"""The samples, in the order of the story."""

SHEET = "saltmarsh_mail.toml"
HISTORY = "history.csv"
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
    scenario : one of `SCENARIOS` for its logs alone; all, with sheet and history, without it.

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
    written = [path for name in SCENARIOS if scenario in (None, name) for path in _write_logs(made, name)]
    if scenario is None:
        written += [_copy(name, made) for name in _BY_HAND]
        written.append(_write_history(made))
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


def _write_logs(folder: Path, name: str) -> list[Path]:
    sample = saltmarsh.SAMPLES[name]()
    flown = simulate(sample.scenario, seed=sample.seed)
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
