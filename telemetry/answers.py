"""What the user settled about a recorder's columns, kept by the signature of its headers."""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import NamedTuple

from platformdirs import user_data_path

from telemetry.errors import BadUse
from telemetry.quantities import QUANTITIES
from telemetry.sentences import column_words, say
from telemetry.whole_files import make_folder, one_writer, why_not, write_text

_FILE = "answers.json"


def signature(headers: Sequence[str]) -> str:
    """The same for logs of the same recorder: a digest of the headers in file order."""
    return hashlib.sha256("\x1f".join(h.strip() for h in headers).encode()).hexdigest()[:16]


class Answer(NamedTuple):
    """What a column is: `quantity` "" where it is to be left out or nothing is said of it, `position` and
    `unit` "" where not said; `missing` are the marks that stand for no value in it.
    """

    quantity: str
    position: str
    unit: str
    missing: tuple[str, ...] = ()


_FORM = re.compile(r"([^@\s]*)(?:@(\S*))?(?:\s+in\s+(.+))?\s*")
_MARK = re.compile(r'"([^"]+)"|(\S+)')
_MARKS = re.compile(r"(?:^|[\s,]+)missing\s+(\S.*)$")


def without_marks(answer: str) -> str:
    """An answer without its marks for no value: what is said of the column itself, "" where that is
    nothing.
    """
    return _MARKS.sub("", answer)


def parsed(answer: str) -> Answer:
    """The parts of an answer such as "current_a@left", "time_s in ms", "missing -1" or "ignore".

    Parameters
    ----------
    answer : "quantity", then "@position" and " in unit" where they are said; or "ignore". After it, or
        alone, "missing" and the marks that stand for no value, parted by blanks; one with a blank in it
        stands in quotation marks.

    Returns
    -------
    Its parts; a quantity that is none is left as it is written.
    """
    told = _MARKS.search(answer)
    missing = tuple(quoted or mark for quoted, mark in _MARK.findall(told[1])) if told else ()
    meaning = without_marks(answer)
    if meaning in ("", "ignore"):
        return Answer("", "", "", missing)
    found = _FORM.fullmatch(meaning)
    if not found:
        return Answer(meaning, "", "", missing)
    return Answer(found[1], found[2] or "", found[3] or "", missing)


def joined(former: Mapping[str, str], latter: Mapping[str, str]) -> dict[str, str]:
    """Answers by heading, the later ones first; what a column is and which marks stand for no value in it are
    said apart, so that neither forgets the other.
    """
    found = {**former, **latter}
    for header in former.keys() & latter.keys():
        meaning = without_marks(latter[header]) or without_marks(former[header])
        marks = parsed(latter[header]).missing or parsed(former[header]).missing
        shown = " ".join(f'"{mark}"' if " " in mark else mark for mark in marks)
        found[header] = f"{meaning} missing {shown}".strip() if marks else meaning
    return found


def check_answer(answer: str) -> str:
    """The answer itself, when it names a quantity at a position it can have, says "ignore", or names marks
    for no value.

    Parameters
    ----------
    answer : as `parsed` takes it; whether its unit is one is for the importer to say.

    Returns
    -------
    The same.

    Raises
    ------
    BadUse : an unknown quantity, or a position that it cannot have.
    """
    quantity, position, _, missing = parsed(answer)
    if without_marks(answer) == "ignore" or (missing and not quantity):
        return answer
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


def names_a_side(answer: str) -> bool:
    """Whether an answer says which is left or right: that hangs on the wiring, not on the recorder.

    Parameters
    ----------
    answer : as `parsed` takes it.
    """
    return parsed(answer).position.startswith(("left", "right"))


def answer_words(answer: str) -> str:
    """An answer as a page or a list says it: "left controller temperature in °C", "left out".

    Parameters
    ----------
    answer : as `parsed` takes it.
    """
    quantity, position, unit, missing = parsed(answer)
    said = []
    if quantity:
        name = column_words(quantity, position)
        said.append(say("answers", "in_unit", name=name, unit=unit) if unit else name)
    elif without_marks(answer):
        said.append(say("answers", "left_out"))
    if missing:
        said.append(say("answers", "missing", marks=", ".join(missing)))
    return "; ".join(said)


class Remembered(NamedTuple):
    """What is remembered of one recorder: its key, a log it was told for ("" if not known), and the answers
    by heading.
    """

    key: str
    file: str
    answers: dict[str, str]


class Answers:
    """Answers in one JSON file of a folder; the file is made at the first `save`.

    Parameters
    ----------
    folder : where the file is kept; the user's data folder by default.
    """

    def __init__(self, folder: str | Path | None = None) -> None:
        self._path = (Path(folder) if folder is not None else user_data_path("sagline")) / _FILE

    def _all(self) -> dict[str, Remembered]:
        try:
            kept = json.loads(self._path.read_text(encoding="utf-8"))
            return {
                key: Remembered(
                    key,
                    str(value.get("file", "")),
                    {str(header): str(answer) for header, answer in value["answers"].items()},
                )
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

    def remembered(self) -> tuple[Remembered, ...]:
        """Every recorder with an answer, the one first told of first. Raises BadUse as `for_headers`."""
        return tuple(one for one in self._all().values() if one.answers)

    def for_headers(self, headers: Sequence[str]) -> dict[str, str]:
        """The answers kept for this recorder, header → "quantity@position" or "ignore"; empty when there are
        none.

        Raises
        ------
        BadUse : the file of answers cannot be read.
        """
        found = self._all().get(signature(headers))
        return dict(found.answers) if found else {}

    def save(
        self, headers: Sequence[str], mapping: Mapping[str, str], *, file: str = "", sides: bool = False
    ) -> tuple[str, ...]:
        """Keep answers for this recorder; earlier ones about other columns stay.

        Parameters
        ----------
        headers : of the log, in file order.
        mapping : header → answer.
        file : the log's name, by which a list names the recorder.
        sides : keep also which is left and which right, as is right only where the wiring never changes.

        Returns
        -------
        The headings whose answer was not kept for it names a side.

        Raises
        ------
        BadUse : an answer that names no quantity, a header that the log has not, or a folder that cannot be
            written to or that another command is writing to for too long.
        """
        check_answers(headers, mapping)
        wanted = {h: a for h, a in mapping.items() if sides or not names_a_side(a)}

        def told(kept: dict[str, Remembered]) -> None:
            key = signature(headers)
            before = kept.get(key, Remembered(key, "", {}))
            kept[key] = Remembered(key, file or before.file, joined(before.answers, wanted))

        if wanted:
            self._change(told)
        return tuple(h for h in mapping if h not in wanted)

    def forget(self, key: str, header: str) -> None:
        """Forget one answer; where there is none nothing changes.

        Parameters
        ----------
        key : of the recorder, as `signature` or `remembered` gives it.
        header : of the column.

        Raises
        ------
        BadUse : the file cannot be read or written.
        """

        def without(kept: dict[str, Remembered]) -> None:
            if key in kept:
                left = {h: a for h, a in kept[key].answers.items() if h != header}
                kept[key] = kept[key]._replace(answers=left)

        if header in self._all().get(key, Remembered(key, "", {})).answers:
            self._change(without)

    def _change(self, change: Callable[[dict[str, Remembered]], None]) -> None:
        """Write the file with a change made to what it holds; a recorder without answers goes from it."""
        try:
            make_folder(self._path.parent)
            with one_writer(self._path.parent):
                kept = self._all()
                change(kept)
                plain = {r.key: {"file": r.file, "answers": r.answers} for r in kept.values() if r.answers}
                write_text(self._path, json.dumps(plain, ensure_ascii=False, indent=1))
        except OSError as error:
            raise BadUse(
                f"the answers cannot be kept ({why_not(error)})",
                "Make room in your data folder, or answer without having it remembered.",
            ) from None
