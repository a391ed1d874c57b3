"""Marks thinned to their middle lines: the one place that calls scikit-image of the extra ``photo``."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from .warping import extra_missing

__all__ = ["thinned"]


def thinned(marks: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Return marks thinned to lines of one pixel, branches and rings kept (Zhang and Suen's thinning).

    Raises
    ------
    DrawingError
        The extra ``photo`` is not installed.
    """
    try:
        from skimage.morphology import skeletonize
    except ImportError:
        raise extra_missing() from None
    # the library asks for an array that may be written to, though it does not write
    thin = skeletonize(np.array(marks, dtype=np.bool_))  # type: ignore[no-untyped-call]
    return np.asarray(thin, dtype=np.bool_)
