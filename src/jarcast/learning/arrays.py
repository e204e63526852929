"""The arrays that everything numeric here works with."""

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
