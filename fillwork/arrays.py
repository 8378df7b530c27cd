"""Arrays by what they hold, as annotations name them."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

AnyInts = NDArray[np.integer]
Bools = NDArray[np.bool_]
Complexes = NDArray[np.complex128]
Floats = NDArray[np.float64]
Floats32 = NDArray[np.float32]
Ints = NDArray[np.int64]
Ints32 = NDArray[np.int32]
