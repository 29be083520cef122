"""What the user settled about a recorder's columns, kept by the signature of its headers."""

from __future__ import annotations

import hashlib
import json
import os
import tempfile
from collections.abc import Mapping, Sequence
from pathlib import Path

from platformdirs import user_data_path

from telemetry.errors import BadUse
from telemetry.quantities import QUANTITIES

_FILE = "answers.json"


def signature(headers: Sequence[str]) -> str:
    """The same for logs of the same recorder: a digest of the headers in file order."""
    return hashlib.sha256("\x1f".join(h.strip() for h in headers).encode()).hexdigest()[:16]


def check_answer(answer: str) -> str:
    """The answer itself, when it names a quantity at a position it can have, or says "ignore".

    Raises
    ------
    BadUse : an unknown quantity, or a position that it cannot have.
    """
    if answer == "ignore":
        return answer
    quantity, _, position = answer.partition("@")
    known = QUANTITIES.get(quantity)
    if known is None:
        raise BadUse(f"{quantity!r} is no quantity", f"Use ignore or one of {', '.join(QUANTITIES)}.")
    if not known.admits(position):
        raise BadUse(
            f"{quantity} cannot stand at {position!r}", f"Its position is of the sort: {known.positions}."
        )
    return answer


def check_answers(headers: Sequence[str], mapping: Mapping[str, str]) -> None:
    """Refuse an answer that names no quantity, or a header that the log has not.

    Raises
    ------
    BadUse : what was found, and what the log or the list has instead.
    """
    for header, answer in mapping.items():
        if header not in headers:
            raise BadUse(f"the log has no column {header!r}", f"It has {', '.join(headers)}.")
        check_answer(answer)


class Answers:
    """Answers in one JSON file of a folder; the file is made at the first `save`.

    Parameters
    ----------
    folder : where the file is kept; the user's data folder by default.
    """

    def __init__(self, folder: str | Path | None = None) -> None:
        self._path = (Path(folder) if folder is not None else user_data_path("sagline")) / _FILE

    def _all(self) -> dict[str, dict[str, str]]:
        try:
            kept = json.loads(self._path.read_text(encoding="utf-8"))
            return {
                key: {str(header): str(answer) for header, answer in value["answers"].items()}
                for key, value in kept.items()
            }
        except (FileNotFoundError, NotADirectoryError):
            return {}
        except OSError as error:
            raise BadUse(
                f"the kept answers cannot be read ({error.strerror})",
                "Make the file readable, or remove it.",
                file=self._path.name,
            ) from None
        except (ValueError, KeyError, TypeError, AttributeError):
            raise BadUse(
                "the kept answers cannot be read", "Remove the file and answer again.", file=self._path.name
            ) from None

    def for_headers(self, headers: Sequence[str]) -> dict[str, str]:
        """The answers kept for this recorder, header → "quantity@position" or "ignore"; empty when there are
        none.
        """
        return self._all().get(signature(headers), {})

    def save(self, headers: Sequence[str], mapping: Mapping[str, str]) -> None:
        """Keep answers for this recorder; earlier ones about other columns stay.

        Raises
        ------
        BadUse : an answer that names no quantity, a header that the log has not, or a folder that cannot be
            written to.
        """
        check_answers(headers, mapping)
        kept = self._all()
        key = signature(headers)
        kept[key] = kept.get(key, {}) | dict(mapping)
        try:
            self._write({k: {"answers": v} for k, v in kept.items()})
        except OSError as error:
            raise BadUse(
                f"the answers cannot be kept ({error.strerror})",
                "Make room in your data folder, or answer without --save.",
            ) from None

    def _write(self, kept: Mapping[str, object]) -> None:
        self._path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        handle, name = tempfile.mkstemp(dir=self._path.parent, prefix=_FILE, suffix=".part")
        try:
            with os.fdopen(handle, "w", encoding="utf-8") as file:
                json.dump(kept, file, ensure_ascii=False, indent=1)
                file.flush()
                os.fsync(file.fileno())
            Path(name).replace(self._path)
        except OSError:
            Path(name).unlink(missing_ok=True)
            raise
