"""One log in another dress: the same readings, written as another recorder or a table program writes them.

    worn = dress(sample(path), Dress(delimiter=";", decimal=",", language="de"))
    worn.raw, worn.expected

Nothing here is shared with the importer; the same dress gives the same bytes.
"""

from __future__ import annotations

from .comparing import compare
from .dresses import DRESSES, Dress, drawn
from .samples import SampleLog, sample, sample_paths
from .wearing import Worn, dress

__all__ = ["DRESSES", "Dress", "SampleLog", "Worn", "compare", "drawn", "dress", "sample", "sample_paths"]
