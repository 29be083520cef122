"""What a reader looks at, as the address of the page has it: an aircraft, a configuration and a pack."""

from __future__ import annotations

from typing import NamedTuple
from urllib.parse import parse_qs, urlencode


class Chosen(NamedTuple):
    """An aircraft by its name, "" for the one worked on; a configuration and a pack, "" for the sheet as it
    stands.
    """

    aircraft: str = ""
    configuration: str = ""
    pack: str = ""

    @classmethod
    def read(cls, search: str) -> Chosen:
        """What an address names; anything else in it is passed over.

        Parameters
        ----------
        search : of the address, from its question mark on.
        """
        told = parse_qs(search.removeprefix("?"))
        return cls(*(told.get(name, [""])[0] for name in cls._fields))

    def address(self, path: str) -> str:
        """The address of a page that looks at the same.

        Parameters
        ----------
        path : of the page.
        """
        told = {name: value for name, value in self._asdict().items() if value}
        return f"{path}?{urlencode(told)}" if told else path
