"""From the description of an option to a parameter of a form, and back to words."""

from __future__ import annotations

from typing import Any

from qgis.core import (
    QgsProcessingParameterBoolean,
    QgsProcessingParameterDefinition,
    QgsProcessingParameterEnum,
    QgsProcessingParameterFile,
    QgsProcessingParameterFileDestination,
    QgsProcessingParameterFolderDestination,
    QgsProcessingParameterMultipleLayers,
    QgsProcessingParameterNumber,
    QgsProcessingParameterString,
    QgsProject,
)

try:  # the scoped names are those of both versions of Qt, the others of older releases
    from qgis.core import Qgis

    FILES = Qgis.ProcessingSourceType.File
except AttributeError:
    from qgis.core import QgsProcessing

    FILES = QgsProcessing.TypeFile

Option = dict[str, Any]
INPUT_LAYER = "geoprofile_borehole"


def parameter(option: Option) -> Any:
    """The field of a form for an option."""
    made = _made(option)
    if option["flag"] and not option["required"]:
        made.setFlags(made.flags() | QgsProcessingParameterDefinition.Flag.FlagOptional)
    made.setHelp(option["help"])
    return made


def _made(option: Option) -> Any:
    name, kind, default = option["name"], option["kind"], option["default"]
    is_optional = not option["required"]
    label = _label(option)
    if kind == "yes or no":
        return QgsProcessingParameterBoolean(name, label, bool(default))
    if kind == "choice":
        return QgsProcessingParameterEnum(
            name, label, option["choices"], False, default, is_optional, True
        )
    if kind in ("number", "whole number") and not option["several"]:
        return _number(option, label, is_optional)
    if kind in ("file", "folder") and option.get("is_made"):
        return _destination(option, label, is_optional)
    if kind == "either" or (kind == "file" and option["several"]):
        return QgsProcessingParameterMultipleLayers(name, label, FILES, None, is_optional)
    if kind in ("file", "folder"):
        behavior = QgsProcessingParameterFile.Behavior
        one = behavior.File if kind == "file" else behavior.Folder
        return QgsProcessingParameterFile(
            name, label, one, option["suffix"].lstrip("."), here(option), is_optional
        )
    return QgsProcessingParameterString(name, label, default, option["several"], is_optional)


def _number(option: Option, label: str, is_optional: bool) -> Any:
    kinds = QgsProcessingParameterNumber.Type
    kind = kinds.Integer if option["kind"] == "whole number" else kinds.Double
    made = QgsProcessingParameterNumber(option["name"], label, kind, option["default"], is_optional)
    if option.get("low") is not None:
        made.setMinimum(option["low"])
    if option.get("high") is not None:
        made.setMaximum(option["high"])
    return made


def _destination(option: Option, label: str, is_optional: bool) -> Any:
    name = option["name"]
    if option["kind"] == "folder":
        return QgsProcessingParameterFolderDestination(name, label, None, is_optional, False)
    suffix = option["suffix"] or ".*"
    return QgsProcessingParameterFileDestination(
        name, label, f"*{suffix}", None, is_optional, False
    )


def _label(option: Option) -> str:
    """The first sentence of the help, or the name; the unit behind it."""
    text = str(option["help"]).split(". ")[0].rstrip(".") or option["name"].replace("_", " ")
    several = ", one a line" if option["several"] and option["kind"] == "text" else ""
    shape = f" ({option['shape']}{several})" if option["shape"] or several else ""
    return text[:1].upper() + text[1:] + shape


def here(option: Option) -> str | None:
    """The site file of the project that is open, or its folder, to begin with."""
    path = site_file()
    if path is None or option["name"] not in ("site", "folder"):
        return None
    return path if option["kind"] == "file" else path.replace("\\", "/").rpartition("/")[0]


def site_file() -> str | None:
    """The site file whose boreholes are in the project."""
    for name, layer in QgsProject.instance().mapLayers().items():
        if name.startswith(INPUT_LAYER):
            return str(layer.source().split("|")[0])
    return None


def words_of(option: Option, value: Any) -> list[str]:
    """What the command line takes for a value of the form."""
    if value is None or value == "" or value == []:
        return []
    flag = [option["flag"]] if option["flag"] else []
    if option["kind"] == "yes or no":
        return flag if value else []
    if value == option["default"]:
        return []
    if option["several"]:
        many = value if isinstance(value, (list, tuple)) else _split(option, str(value))
        return [word for one in many for word in (*flag, str(one))]
    return [*flag, str(value)]


def _split(option: Option, text: str) -> list[str]:
    """Several values of one field: a line each, numbers also with commas or blanks between."""
    if option["kind"] != "text":
        text = text.replace(",", "\n").replace(" ", "\n")
    return [line.strip() for line in text.splitlines() if line.strip()]
