"""What the laws take and give: a number or a whole column of them, all arguments of one call alike."""

from __future__ import annotations

from typing import TypeVar

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]
Number = TypeVar("Number", float, Floats)
"""A single number, or an array that broadcasts with the call's other arrays."""
