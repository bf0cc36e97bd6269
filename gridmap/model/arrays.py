"""Names for the array types: float32 for data, float64 for co-ordinates."""

from __future__ import annotations

from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

Float32: TypeAlias = NDArray[np.float32]
Float64: TypeAlias = NDArray[np.float64]
Int64: TypeAlias = NDArray[np.int64]
Bool: TypeAlias = NDArray[np.bool_]
