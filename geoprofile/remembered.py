"""What was computed before from the very same, found again by a digest of all that it rests on.

A site's memory is one file in its output folder. It holds numbers and text, no code; what it
answers is what computing would give to the last bit, so it may be deleted, lost or behind at any
time. Two runs at a time cannot mislead each other: what counts is the digest, not who wrote.
"""

from __future__ import annotations

import hashlib
import json
import platform
import struct
import zipfile
import zlib
from collections import OrderedDict
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager, suppress
from contextvars import ContextVar
from dataclasses import dataclass, fields, is_dataclass
from functools import cache
from pathlib import Path
from threading import Lock
from typing import Any

import numpy as np
from numpy.typing import NDArray

from geoprofile import __version__
from geoprofile.errors import GeoprofileError
from geoprofile.whole import whole_file

NAME = "remembered.zip"
MOST_BYTES = 64 * 2**20  # the largest goes first, of equal ones what was asked for longest ago
LARGE = 4  # one result may fill such a part of it
KINDS = ("float64", "int64", "bool")
DATE = (1980, 1, 1, 0, 0, 0)  # the same content, the same bytes
HEAD = struct.Struct("<I")

Arrays = tuple[NDArray[Any], ...]
Content = tuple[Any, Arrays]


class Memory:
    """What a file remembers, and what is to be added to it; `again` asks it nothing."""

    def __init__(self, path: Path, *, again: bool = False) -> None:
        self.path, self.again = path, again
        self.new: OrderedDict[str, bytes] = OrderedDict()
        self.asked: dict[str, None] = {}
        self.lock = Lock()
        self.file: zipfile.ZipFile | None = None
        with suppress(*_UNREADABLE):
            self.file = zipfile.ZipFile(path)
        self.names = set() if self.file is None else set(self.file.namelist())

    def recall(self, key: str) -> Content | None:
        """What is remembered under a key; None for nothing, or nothing that can be read."""
        with self.lock:
            fresh = self.new.get(key)
        if fresh is not None:
            return _content(fresh)
        if self.again or key not in self.names:
            return None
        with suppress(*_UNREADABLE):
            found = _content(self._stored(key))
            self.asked[key] = None
            return found
        return None

    def keep(self, key: str, content: Content) -> None:
        """Remember from now on, if it can be written down and does not push all else out."""
        with suppress(*_UNREADABLE):
            self.take({key: _bytes(content)})

    def take(self, written: Mapping[str, bytes]) -> None:
        """Remember what is written down already, but for what would push all else out."""
        with self.lock:
            self.new |= {k: one for k, one in written.items() if len(one) <= MOST_BYTES // LARGE}
            for gone in _too_many({k: len(one) for k, one in self.new.items()}):
                del self.new[gone]

    def _stored(self, key: str) -> bytes:
        assert self.file is not None  # noqa: S101  its names came from it
        if self.file.getinfo(key).file_size > MOST_BYTES:
            raise ValueError(key)
        return self.file.read(key)

    def save(self) -> None:
        """Write what is new beside what was; a disk that refuses costs the next run some time."""
        if self.new:
            with suppress(*_UNREADABLE):
                self._write()

    def close(self) -> None:
        """Let go of the file."""
        if self.file is not None:
            self.file.close()

    def _write(self) -> None:
        sizes: dict[str, int] = {}
        old = () if self.file is None else self.file.namelist()
        for key in (*(k for k in old if k not in self.asked), *self.asked):
            if self.file is not None and key not in self.new:
                sizes[key] = self.file.getinfo(key).file_size
        sizes |= {key: len(one) for key, one in self.new.items()}
        gone = _too_many(sizes)
        held: dict[str, bytes] = {}
        for key in sizes:
            if key not in gone:
                with suppress(*_UNREADABLE):
                    held[key] = self.new[key] if key in self.new else self._stored(key)
        self.close()  # some systems replace no file that is open
        with whole_file(self.path) as beside, zipfile.ZipFile(beside, "w") as written:
            for key, content in held.items():
                written.writestr(zipfile.ZipInfo(key, DATE), content)


def _too_many(sizes: Mapping[str, int]) -> set[str]:
    """What goes to stay below the bound: the largest first, of equal ones the oldest."""
    left, total = dict(sizes), sum(sizes.values())
    while total > MOST_BYTES:
        total -= left.pop(max(left, key=left.__getitem__))
    return set(sizes) - set(left)


# a file that was cut off, changed or never one of ours
_UNREADABLE = (
    OSError,
    zipfile.BadZipFile,
    zlib.error,
    struct.error,
    GeoprofileError,
    ValueError,
    LookupError,
    TypeError,
    AttributeError,
    ArithmeticError,
    EOFError,
    MemoryError,
    RuntimeError,
)
_MEMORY: ContextVar[Memory | None] = ContextVar("memory", default=None)


@contextmanager
def remembering(folder: Path, *, again: bool = False) -> Iterator[None]:
    """Inside, what was computed before is found in a folder's memory, and what is new goes there.

    Parameters
    ----------
    folder : Path
        Output folder of a site; where it is not there nothing is kept.
    again : bool
        Everything is computed, whatever is remembered.
    """
    if _MEMORY.get() is not None:  # a command inside another
        yield
        return
    memory = Memory(folder / NAME, again=again)
    token = _MEMORY.set(memory)
    try:
        yield
        if folder.is_dir():  # what stopped half way leaves all as it was
            memory.save()
    finally:
        _MEMORY.reset(token)
        memory.close()


@dataclass(frozen=True)
class Where:
    """The memory of a process, for another one that computes for it."""

    path: Path
    again: bool


@dataclass(frozen=True)
class Learned:
    """What was remembered in another process: what is new there, and what it asked for."""

    new: dict[str, bytes]
    asked: tuple[str, ...]


def where() -> Where | None:
    """The memory at present, if there is one."""
    memory = _MEMORY.get()
    return None if memory is None else Where(memory.path, memory.again)


@contextmanager
def learning(place: Where | None) -> Iterator[Callable[[], Learned | None]]:
    """In another process: its memory is asked inside, and what is new is not written but given.

    Parameters
    ----------
    place : Where, optional
        As that process says.

    Yields
    ------
    callable
        Gives what has been learned so far.
    """
    if place is None:
        yield lambda: None
        return
    memory = Memory(place.path, again=place.again)
    token = _MEMORY.set(memory)
    try:
        yield lambda: Learned(dict(memory.new), tuple(memory.asked))
    finally:
        _MEMORY.reset(token)
        memory.close()


def learn(learned: Learned) -> None:
    """Remember what another process has learned, as if it had been computed here."""
    memory = _MEMORY.get()
    if memory is not None:
        memory.take(learned.new)
        memory.asked |= dict.fromkeys(learned.asked)


def remembered(parts: Iterable[Any], compute: Callable[[], Any], form: Form) -> Any:
    """What was computed before from the same parts, else what is computed now.

    Parameters
    ----------
    parts : iterable
        All that the result rests on: numbers, text, arrays, records and functions.
    compute : callable
        Gives the result.
    form : Form
        How it is kept.

    Returns
    -------
    object
        The same to the last bit either way.
    """
    memory = _MEMORY.get()
    key = None if memory is None else name_of(parts, form)
    if memory is None or key is None:
        return compute()
    found = _recalled(memory, key, form)
    if found is not None:
        return found
    made = compute()
    _keep(memory, key, form, made)
    again = _recalled(memory, key, form)  # kinds of numbers are the same whoever computed it
    return made if again is None else again


def recalled(parts: Iterable[Any], form: Form) -> Any:
    """What was kept under the same parts; None where nothing was."""
    memory = _MEMORY.get()
    key = None if memory is None else name_of(parts, form)
    return None if memory is None or key is None else _recalled(memory, key, form)


def _recalled(memory: Memory, key: str, form: Form) -> Any:
    found = memory.recall(key)
    if found is not None:
        with suppress(*_UNREADABLE):
            return form.read(found)
    return None


def keep(parts: Iterable[Any], form: Form, made: Any) -> None:
    """Keep a result for later runs, where there is a memory and the result can be kept."""
    memory = _MEMORY.get()
    key = None if memory is None else name_of(parts, form)
    if memory is not None and key is not None:
        _keep(memory, key, form, made)


def _keep(memory: Memory, key: str, form: Form, made: Any) -> None:
    content = form.write(made)
    if content is not None:
        memory.keep(key, content)


def name_of(parts: Iterable[Any], form: Form) -> str | None:
    """What a result is known by, to this run and others; None where it rests on what has no digest.

    Parameters
    ----------
    parts : iterable
        As for `remembered`.
    form : Form
        Its sort.

    Returns
    -------
    str or None
        40 hexadecimal digits.
    """
    with suppress(TypeError):
        return digest_of(form.name, *map(_code, form.code), *parts)
    return None


@dataclass(frozen=True)
class Form:
    """How results of one sort are kept: `write` to text and arrays (None: not at all), and back.

    `code` names the packages by whose code they are computed.
    """

    name: str
    code: tuple[str, ...]
    write: Callable[[Any], Content | None]
    read: Callable[[Content], Any]


def of_arrays(name: str, *code: str) -> Form:
    """Results that are tuples of arrays."""
    return Form(name, code, lambda made: (None, tuple(made)), lambda found: found[1])


def of_records(name: str, classes: Iterable[type], *code: str) -> Form:
    """Results that are records of some classes, with text, numbers, tuples and arrays in them."""
    known = {one.__name__: one for one in classes}
    return Form(name, code, _written, lambda found: _record(found[0], found[1], known))


@cache
def _code(package: str) -> str:
    """A digest of the code of a package, of what all share, and of all that decides last bits."""
    import llvmlite.binding
    import numba
    import scipy

    own = Path(__file__).parent
    files = [own / "compiling.py", *sorted((own / package).rglob("*.py"))]
    texts = [text for file in files if (text := _text(file)) is not None]
    libraries = (np.__version__, scipy.__version__, numba.__version__)
    machine = (platform.python_version(), platform.machine(), llvmlite.binding.get_host_cpu_name())
    return digest_of(__version__, libraries, machine, texts)


def _text(file: Path) -> str | None:
    """What stands in a file of code; None where the program is not kept in files."""
    try:
        return file.read_text(encoding="utf-8")
    except (OSError, ValueError):
        return None


def digest_of(*parts: Any) -> str:
    """A digest of numbers, text, arrays, shapes, records, mappings, sequences and functions.

    Parameters
    ----------
    *parts : object
        Anything of these kinds.

    Returns
    -------
    str
        40 hexadecimal digits, equal only for what is equal to the last bit.
    """
    digest = hashlib.blake2b(digest_size=20)
    for part in parts:
        _feed(digest.update, part)
    return digest.hexdigest()


def _feed(update: Callable[[bytes], None], part: Any) -> None:
    """One part, with its kind and size so that no two run together."""
    if isinstance(part, np.ndarray) and not part.dtype.hasobject:
        update(f"array {part.dtype.str} {part.shape} ".encode())
        update(np.ascontiguousarray(part).tobytes())
    elif is_dataclass(part) and not isinstance(part, type):
        update(f"record {type(part).__qualname__} ".encode())
        for item in fields(part):
            update(f"{item.name} ".encode())
            _feed(update, getattr(part, item.name))
    elif isinstance(part, Mapping):
        update(f"mapping {len(part)} ".encode())
        for name in sorted(part):
            _feed(update, name)
            _feed(update, part[name])
    elif isinstance(part, tuple | list):
        update(f"sequence {len(part)} ".encode())
        for one in part:
            _feed(update, one)
    elif hasattr(part, "wkb"):
        update(f"shape {len(part.wkb)} ".encode())
        update(part.wkb)
    elif hasattr(part, "__qualname__"):
        update(f"function {part.__module__}:{part.__qualname__} ".encode())
    else:
        plain = part.item() if isinstance(part, np.generic) else part
        if not isinstance(plain, str | int | float | bool | bytes | None):
            raise TypeError(type(plain).__name__)
        update(f"{type(plain).__name__} {len(repr(plain))} {plain!r} ".encode())


def _written(made: Any) -> Content:
    """A record as JSON and the arrays it names by their number."""
    arrays: list[NDArray[Any]] = []

    def plain(value: Any) -> Any:
        if isinstance(value, np.ndarray):
            arrays.append(value)
            return {"array": len(arrays) - 1}
        if is_dataclass(value):
            inside = {f.name: plain(getattr(value, f.name)) for f in fields(value)}
            return {"record": type(value).__name__, "fields": inside}
        if isinstance(value, tuple):
            return {"tuple": [plain(one) for one in value]}
        return value.item() if isinstance(value, np.generic) else value

    return plain(made), tuple(arrays)


def _record(plain: Any, arrays: Arrays, known: Mapping[str, type]) -> Any:
    """The record of `_written`."""
    if not isinstance(plain, dict):
        return plain
    if "array" in plain:
        return arrays[plain["array"]]
    if "tuple" in plain:
        return tuple(_record(one, arrays, known) for one in plain["tuple"])
    inside = {name: _record(one, arrays, known) for name, one in plain["fields"].items()}
    return known[plain["record"]](**inside)


def _bytes(content: Content) -> bytes:
    plain, arrays = content
    shapes = [[one.dtype.name, list(one.shape)] for one in arrays]
    head = json.dumps([plain, shapes]).encode()
    return HEAD.pack(len(head)) + head + b"".join(_native(a).tobytes() for a in arrays)


def _native(array: NDArray[Any]) -> NDArray[Any]:
    """In a row, and in the byte order that the name of its kind means."""
    return np.ascontiguousarray(array, dtype=array.dtype.newbyteorder("="))


def _content(stored: bytes) -> Content:
    (size,) = HEAD.unpack_from(stored)
    at = HEAD.size + size
    plain, shapes = json.loads(stored[HEAD.size : at])
    arrays = []
    for kind, shape in shapes:
        if kind not in KINDS:
            raise ValueError(kind)
        count = int(np.prod(shape, dtype=np.int64))
        one = np.frombuffer(stored, dtype=kind, count=count, offset=at).reshape(shape).copy()
        one.flags.writeable = False
        arrays.append(one)
        at += one.nbytes
    return plain, tuple(arrays)
