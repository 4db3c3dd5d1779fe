"""What is made of some tables of a site is made once, as long as these tables are the same."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Hashable, Iterable
from dataclasses import dataclass
from functools import wraps
from threading import RLock
from typing import TYPE_CHECKING, Any, Concatenate, Generic, ParamSpec, TypeVar
from weakref import ref

if TYPE_CHECKING:
    from geoprofile.site import Site

MOST = 24  # results of one function; a site has as many fields and rounds at a time

More = ParamSpec("More")
Made = TypeVar("Made")
Function = Callable[Concatenate["Site", More], Made]


def made_of(
    *tables: str, most: int = MOST
) -> Callable[[Function[More, Made]], Function[More, Made]]:
    """A decorator for functions of a site that read some of its tables and no settings.

    A site that gained a table is another site, and what rests on the others is still the same. The
    function is handed only the tables that are named, so that it cannot come to rest on more.

    Parameters
    ----------
    *tables : str
        All that the function reads.
    most : int [-]
        How many results are kept; the longest unused go first, and each with the first of its
        tables that nobody holds any more.

    Returns
    -------
    callable
        Takes a site and arguments that can be compared. What it gives is shared: nobody may change
        it.
    """

    def decorate(function: Function[More, Made]) -> Function[More, Made]:
        kept: _Kept[Made] = _Kept(most)

        @wraps(function)
        def made(site: Site, /, *args: More.args, **named: More.kwargs) -> Made:
            frames = tuple(site.tables.get(name) for name in tables)
            # a table that is not there is empty in a site, and may be an error in a part of one
            whole = site.lacks_nothing or all(frame is not None for frame in frames)
            key = (site.crs, *map(id, frames), whole, args, tuple(sorted(named.items())))
            found = kept.get(key)
            if found is None:
                part = site.part(tables)
                found = _Found(function(part, *args, **named), tuple(part.asked))
                kept.keep(key, frames, found)
            else:
                for name in found.asked:  # whoever watches what is read is told of it all the same
                    site.table(name)
            return found.result

        return made

    return decorate


@dataclass(frozen=True)
class _Found(Generic[Made]):
    """A result, and the tables that were asked for it."""

    result: Made
    asked: tuple[str, ...]


class _Kept(Generic[Made]):
    """Results of a function by what it was asked, as long as somebody holds their tables."""

    def __init__(self, most: int) -> None:
        self.most = most
        self.held: OrderedDict[Hashable, tuple[Any, _Found[Made]]] = OrderedDict()
        self.lock = RLock()  # a frame may go while it is held

    def get(self, key: Hashable) -> _Found[Made] | None:
        """A result, which is then the one asked for last."""
        with self.lock:
            if key not in self.held:
                return None
            self.held.move_to_end(key)
            return self.held[key][1]

    def keep(self, key: Hashable, frames: Iterable[Any], found: _Found[Made]) -> None:
        """Keep a result until one of its frames goes, or so many others have been asked for."""

        def forget(_: object) -> None:
            with self.lock:
                self.held.pop(key, None)

        with self.lock:
            watched = [ref(frame, forget) for frame in frames if frame is not None]
            self.held[key] = watched, found
            while len(self.held) > self.most:
                self.held.popitem(last=False)
