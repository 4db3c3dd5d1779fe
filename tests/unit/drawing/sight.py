"""How colours look in grey and to colour-blind eyes."""

from __future__ import annotations

import numpy as np

# Machado, Oliveira and Fernandes (2009), severity 1.0, from memory
COLOUR_BLIND = {
    "deuteranopia": [
        [0.367322, 0.860646, -0.227968],
        [0.280085, 0.672501, 0.047413],
        [-0.011820, 0.042940, 0.968881],
    ],
    "protanopia": [
        [0.152286, 1.052583, -0.204868],
        [0.114503, 0.786281, 0.099216],
        [-0.003882, -0.048116, 1.051998],
    ],
}


def linear(colours):
    """Linear sRGB (IEC 61966-2-1) of #rrggbb, shape (n, 3)."""
    values = np.array([[int(c[i : i + 2], 16) / 255 for i in (1, 3, 5)] for c in colours])
    return np.where(values <= 0.04045, values / 12.92, ((values + 0.055) / 1.055) ** 2.4)


def lightness(rgb):
    """CIE L* from linear sRGB by the luminance of Rec. 709; from memory."""
    y = rgb @ [0.2126, 0.7152, 0.0722]
    return 116 * np.cbrt(y) - 16
