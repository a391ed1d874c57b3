"""A smooth function through points that rises and falls only where they do."""

from __future__ import annotations

import numpy as np

from ...model import FloatArray

__all__ = ["monotone_cubic"]


def monotone_cubic(x: FloatArray, y: FloatArray, at: FloatArray) -> FloatArray:
    """Return the values at places ``at`` of a cubic through points that overshoots nowhere between them.

    ``x`` increases; beyond its ends the first and the last cubic go on.

    Notes
    -----
    F. N. Fritsch and J. Butland, "A method for constructing local monotone piecewise cubic interpolants", SIAM J. Sci.
    Stat. Comput. 5, 1984; ends after C. Moler, "Numerical Computing with MATLAB", 2004, 3.6. ``scipy.interpolate`` has
    it too, but its import alone takes longer than a feather.

    Examples
    --------
    >>> import numpy as np
    >>> monotone_cubic(np.array([0.0, 1.0, 3.0]), np.array([0.0, 2.0, 2.0]), np.array([0.5, 1.0, 2.5])).tolist()
    [1.3333333333333333, 2.0, 2.0]
    """
    step, slope = np.diff(x), np.diff(y) / np.diff(x)
    rate = np.full(len(x), slope[0])
    if len(x) > 2:
        same = slope[1:] * slope[:-1] > 0
        a, b = 2 * step[1:] + step[:-1], step[1:] + 2 * step[:-1]
        safe = np.where(slope != 0, slope, 1.0)
        rate[1:-1] = np.where(same, 1.0 / ((a / safe[:-1] + b / safe[1:]) / (a + b)), 0.0)
        rate[0] = _end(step[0], step[1], slope[0], slope[1])
        rate[-1] = _end(step[-1], step[-2], slope[-1], slope[-2])
    bend = (rate[:-1] + rate[1:] - 2 * slope) / step
    k = np.clip(np.searchsorted(x, at, side="right") - 1, 0, len(step) - 1)
    s = at - x[k]
    return np.asarray(
        y[k] + rate[k] * s + ((slope - rate[:-1]) / step - bend)[k] * (s * s) + (bend / step)[k] * (s * s * s)
    )


def _end(near: float, far: float, slope: float, next_slope: float) -> float:
    """Return the rate of change at an end, from the steps and slopes of the two stretches next to it."""
    rate = ((2 * near + far) * slope - near * next_slope) / (near + far)
    if rate * slope <= 0:
        return 0.0
    return 3 * slope if slope * next_slope <= 0 and abs(rate) > 3 * abs(slope) else float(rate)
