"""Finds the calls of a module that write a file, from its syntax alone."""

from __future__ import annotations

import ast
from collections.abc import Iterator

DOOR = "geoprofile.whole"
DOORS = {"whole_file", "whole_files", "write_text", "private_folder", "publish_new"}
# calls that write, whatever they are called on
WRITING = {
    "write_text", "write_bytes", "touch", "symlink_to", "hardlink_to", "renames",
    "copyfile", "copyfileobj", "copy2", "copytree", "move", "extractall", "make_archive",
    "savefig", "imsave", "PdfPages", "tofile", "savetxt", "savez", "savez_compressed",
    "to_parquet", "to_feather", "to_excel", "to_pickle", "to_file", "to_gpkg",
    "write_dataframe", "write_table", "write_to_dataset", "write_feather",
}  # fmt: skip
# names that are harmless elsewhere: they write as a function of these modules
OF_MODULES = {
    "os": {"replace", "rename", "link", "symlink", "truncate", "mkfifo"},
    "shutil": {"copy"},
    "np": {"save"},
    "numpy": {"save"},
    "rasterio.shutil": {"copy"},
    "sqlite3": {"connect"},
}
# texts, unless they are given a place
WITH_A_PLACE = {"to_csv", "to_json", "to_html", "to_xml"}
PLACES = {"path", "path_or_buf", "buf", "filename", "path_or_buffer"}
OPENING = {"open", "fdopen", "ZipFile", "PyZipFile", "TarFile", "GzipFile"}
FLAGS = {"O_WRONLY", "O_RDWR", "O_CREAT", "O_APPEND", "O_TRUNC"}


def writers(tree: ast.AST) -> set[str]:
    """Names of the calls in a module that write a file, but for those of the door itself."""
    outside = {
        alias.asname or alias.name: (node.module or "", alias.name)
        for node in ast.walk(tree)
        if isinstance(node, ast.ImportFrom)
        for alias in node.names
    }
    return {name for call in _calls(tree) if (name := _written(call, outside))}


def doors(tree: ast.AST) -> set[str]:
    """The doors that a module imports."""
    return {
        alias.name
        for node in ast.walk(tree)
        if isinstance(node, ast.ImportFrom) and node.module == DOOR
        for alias in node.names
        if alias.name in DOORS
    }


def _calls(tree: ast.AST) -> Iterator[ast.Call]:
    return (node for node in ast.walk(tree) if isinstance(node, ast.Call))


def _written(call: ast.Call, outside: dict[str, tuple[str, str]]) -> str:
    """The name of a call that writes, or ""."""
    if isinstance(call.func, ast.Attribute):
        owner = call.func.value
        module, name = owner.id if isinstance(owner, ast.Name) else "", call.func.attr
        if module.islower() and outside.get(module, ("", ""))[0].startswith("geoprofile"):
            return ""  # a function of a module of ours: looked at where it stands
    elif isinstance(call.func, ast.Name):
        module, name = outside.get(call.func.id, ("", call.func.id))
        if (
            module.startswith("geoprofile")
            or module == "dataclasses"
            or (not module and name != "open")
        ):
            return ""
    else:
        return ""
    return name if _writes(call, module, name) else ""


def _writes(call: ast.Call, module: str, name: str) -> bool:
    if module in OF_MODULES:  # no text and no path
        return name in OF_MODULES[module] | WRITING or (name in OPENING and _opens(call))
    if name in OPENING:
        return _opens(call)
    if name in ("replace", "rename"):  # of a path; texts, times and tables take other arguments
        plain = len(call.args) == 1 and not call.keywords
        return plain and not (
            isinstance(call.args[0], ast.Dict) or _is_call_of(call.args[0], "dict")
        )
    if name in WITH_A_PLACE:
        return bool(call.args) or any(k.arg in PLACES for k in call.keywords)
    return name in WRITING


def _opens(call: ast.Call) -> bool:
    """Whether a file is opened for writing: by its mode or its flags; one that is not known is."""
    given = [*call.args, *(k.value for k in call.keywords if k.arg in ("mode", "flags"))]
    modes = [a.value for a in given if isinstance(a, ast.Constant) and isinstance(a.value, str)]
    named = {n.attr for a in given for n in ast.walk(a) if isinstance(n, ast.Attribute)}
    return bool(named & FLAGS) or any(
        0 < len(mode) <= 4 and set(mode) <= set("rwaxbt+:gz|") and set(mode) & set("wax+")
        for mode in modes
    )


def _is_call_of(node: ast.expr, name: str) -> bool:
    return isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == name
