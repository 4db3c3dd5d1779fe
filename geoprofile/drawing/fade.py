"""The fade that lets colours fade where a field is not well known."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, TypeAlias

import numpy as np
from matplotlib.axes import Axes
from numpy.typing import NDArray

if TYPE_CHECKING:
    from matplotlib.image import AxesImage

Array: TypeAlias = NDArray[np.float64]
FADE_FROM, FADE_TO, FADE_MOST = 0.4, 1.1, 0.85  # sd of log10 where fading starts, ends; opacity


def opacity(log10_sd: Array) -> Array:
    """How much of a colour the fade hides.

    Parameters
    ----------
    log10_sd : Array, any shape [-]
        Standard deviation of log10; NaN outside what is drawn.

    Returns
    -------
    Array, same shape [-]
        0 where the field is well known or not drawn, rising to 0.85.
    """
    share = (np.nan_to_num(log10_sd) - FADE_FROM) / (FADE_TO - FADE_FROM)
    return np.asarray(np.clip(share, 0, 1) * FADE_MOST, dtype=np.float64)


def draw_fade(axes: Axes, x: Array, y: Array, log10_sd: Array) -> AxesImage:
    """Lay a white fade over a drawing; the caller cuts it to what it covers.

    Parameters
    ----------
    axes : Axes
        The drawing.
    x, y : Array, shape (nx,) and (ny,) [m]
        Grid lines.
    log10_sd : Array, shape (ny, nx) [-]
        Standard deviation of log10.

    Returns
    -------
    AxesImage
        The fade.
    """
    step_x, step_y = (x[1] - x[0]) / 2, (y[1] - y[0]) / 2
    # in bytes, as the sheet has them: numbers of the pixels in full would take 30 MB
    white = np.full((*log10_sd.shape, 4), 255, dtype=np.uint8)
    white[..., 3] = np.rint(255.0 * opacity(log10_sd))
    limits: Any = (*axes.get_xlim(), *axes.get_ylim())
    aspect = axes.get_aspect()
    image = axes.imshow(
        white,
        origin="lower",
        extent=(x[0] - step_x, x[-1] + step_x, y[0] - step_y, y[-1] + step_y),
        aspect="auto",
        interpolation="bilinear",
        zorder=2,
    )
    axes.set_aspect(aspect)
    axes.axis(limits)
    return image
