"""Which test files know a module of the package: by what they import, and what that imports."""

from __future__ import annotations

import ast
from pathlib import Path

ROOT = Path(__file__).parents[2]
PACKAGE = "geoprofile"
SLOW = ("calibration", "bench", "faults", "history", "cli", "site", "mutants", "outside", "gis")
WIDE = ("contract", "property", "rules")  # hold everything a little: after those of the room
MOST_FILES = 12  # test files for one mutant
RINGS = 4  # importers of importers, so many times


def imported(path: Path) -> set[str]:
    """Every module or name of the package that a file imports, dotted."""
    found: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found |= {a.name for a in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module and not node.level:
            found.add(node.module)
            found |= {f"{node.module}.{a.name}" for a in node.names}
    return {name for name in found if name.split(".")[0] == PACKAGE}


def dotted(root: Path, path: Path) -> str:
    """The name under which a file is imported."""
    parts = path.relative_to(root).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


class Related:
    """Which tests know a module: those that import it, then those that import what imports it."""

    def __init__(self, root: Path = ROOT) -> None:
        self.root = root
        self.names = {dotted(root, p): imported(p) for p in (root / PACKAGE).rglob("*.py")}
        tests = sorted((root / "tests").rglob("test_*.py"))
        self.tests = {str(p.relative_to(root)): imported(p) for p in tests}
        self.texts = {name: (root / name).read_text(encoding="utf-8") for name in self.tests}

    def of(self, path: str) -> list[str]:
        """Test files, the nearest first, at most `MOST_FILES`; none of those that take minutes."""
        known = {dotted(self.root, self.root / path)}
        ring, files = set(known), self._near(known, [], path)
        files += [t for t in self._by_name(path) if t not in files]
        for _ in range(RINGS):
            faces = self._faces(ring)
            ring = {n for n, used in self.names.items() if used & faces} - known
            known |= ring
            files += self._near(ring, files, path)
        quick = [t for t in files if not self._is_slow(t)]
        return sorted(quick, key=self._is_wide)[:MOST_FILES]

    def _near(self, modules: set[str], known: list[str], path: str) -> list[str]:
        """Tests that import one of the modules: named after one first, then of the same room."""
        rooms = set(Path(path).parts[1:-1])
        faces = self._faces(modules)
        stems = {name.rsplit(".", 1)[-1].strip("_") for name in modules}
        near = [t for t, used in self.tests.items() if used & faces and t not in known]
        return sorted(near, key=lambda t: self._distance(t, stems, rooms))

    @staticmethod
    def _distance(test: str, stems: set[str], rooms: set[str]) -> tuple[bool, int, str]:
        parts = Path(test).parts
        return Path(test).stem[5:] not in stems, -len(rooms & set(parts)), test

    def _faces(self, modules: set[str]) -> set[str]:
        """The modules, and the rooms that hand their names on."""
        faces = set(modules)
        for module in modules:
            room = module.rsplit(".", 1)[0]
            if room != PACKAGE:
                mine = self.names.get(room, set())
                faces |= {
                    f"{room}.{n.rsplit('.', 1)[1]}" for n in mine if n.startswith(module + ".")
                }
        return faces

    def _by_name(self, path: str) -> list[str]:
        """What is found by scanning: tests that name it, of its contract, of published cases."""
        if path.startswith(f"{PACKAGE}/validation/"):
            return [t for t in self.tests if "/published/" in t or "/validation/" in t]
        if "/template/" in path:
            return [t for t, words in self.texts.items() if "gisplugin" in words]
        text = (self.root / path).read_text(encoding="utf-8")
        if "PLUGIN" not in text:
            return []
        stem = Path(path).stem
        marks = (f'"{stem}"', f'"{stem.replace("_", "-")}"', "import " + stem)
        return [
            t
            for t, words in sorted(self.texts.items())
            if any(m in words for m in marks) or "contract" in t
        ]

    @staticmethod
    def _is_wide(test: str) -> bool:
        return bool(set(WIDE) & set(Path(test).parts))

    @staticmethod
    def _is_slow(test: str) -> bool:
        return any(part in SLOW for part in Path(test).parts)
