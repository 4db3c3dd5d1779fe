"""How layers are drawn: one style model, written as QML for QGIS and as SLD for other software."""

from __future__ import annotations

from geoprofile.drawing.styles.catalogue import looks, needed_columns, style_of
from geoprofile.drawing.styles.model import Style
from geoprofile.drawing.styles.qml import element, qml
from geoprofile.drawing.styles.sld import sld

__all__ = ["Style", "element", "looks", "needed_columns", "qml", "sld", "style_of"]
