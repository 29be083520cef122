"""How a pack that feeds one motor is named in subjects and sentences, and how what was said of it is read
again where it stands elsewhere, or alone.
"""

from __future__ import annotations

from telemetry.quantities import PACK_POSITIONS
from telemetry.sentences import capital, say


def pack_words(place: str) -> str:
    """A pack that feeds one motor in words.

    Parameters
    ----------
    place : its position, such as "left_pack".

    Returns
    -------
    Such as "left pack".
    """
    return place.replace("_", " ")


def subject_of(place: str, part: str) -> str:
    """The subject of a finding with its pack.

    Parameters
    ----------
    place : the pack's position, such as "left_pack"; "" where one pack feeds all.
    part : of a single pack, such as "cell 3" or "pack".

    Returns
    -------
    Such as "left pack, cell 3", and "left pack" for the pack itself.
    """
    if not place:
        return part
    return pack_words(place) if part == "pack" else f"{pack_words(place)}, {part}"


def pack_and_part(subject: str) -> tuple[str, str]:
    """The pack that a finding is about where each motor has one, and what of it.

    Parameters
    ----------
    subject : of the finding, such as "left pack, cell 3".

    Returns
    -------
    Such as "left_pack" and "cell 3"; "" and the subject where it names no pack.
    """
    pack, _, part = subject.partition(", ")
    place = pack.replace(" ", "_")
    return (place, part or "pack") if place in PACK_POSITIONS else ("", subject)


def sentence_of(place: str, text: str) -> str:
    """A sentence about a pack with the pack in front.

    Parameters
    ----------
    place : the pack's position; "" where one pack feeds all.
    text : of a single pack, such as "Cell 3 is weak."; "" stays.

    Returns
    -------
    Such as "Left pack: cell 3 is weak."
    """
    return say("of_pack", pack=capital(pack_words(place)), text=inside(text)) if place and text else text


def sentence_without(place: str, text: str) -> str:
    """A sentence of `sentence_of` as it is said of a single pack."""
    front = say("of_pack", pack=capital(pack_words(place)), text="")
    return capital(text.removeprefix(front)) if place and text.startswith(front) else text


def inside(text: str) -> str:
    """A sentence as it goes on behind a colon or a dash."""
    return text[:1].lower() + text[1:] if text[1:2].islower() else text
