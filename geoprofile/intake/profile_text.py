"""A profile as text for site.toml or a profile file."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from typing import Any

from geoprofile.intake.profiles import Profile


def as_toml(said: Profile, questions: Sequence[str], heading: str = "profile") -> str:
    """The profile as text, with what is left to decide as remarks."""
    lines = [f"# decide: {q}" for q in questions]
    lines += [
        f"[[{heading}]]",
        f"files = {toml_of(list(said.files))}",
        f"table = {toml_of(said.table)}",
    ]
    plain = Profile(files=(), table="")
    for key in Profile.__dataclass_fields__:
        value = getattr(said, key)
        if key in ("files", "table") or value == getattr(plain, key) or isinstance(value, Mapping):
            continue
        lines.append(f"{key} = {toml_of(list(value) if isinstance(value, tuple) else value)}")
    for key in ("columns", "header_block", "constants", "values"):
        value = getattr(said, key)
        if value:
            lines += ["", f"[{heading}.{key}]"]
            lines += [f"{toml_of(k)} = {toml_of(v)}" for k, v in value.items()]
    return "\n".join(lines) + "\n"


def toml_of(value: Any) -> str:
    """A text, number or list as TOML writes it."""
    if isinstance(value, list):
        return "[" + ", ".join(toml_of(v) for v in value) + "]"
    return json.dumps(value, ensure_ascii=False)
