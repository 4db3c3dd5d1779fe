"""What is made of some tables of a site is made once, as long as these tables are the same."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Hashable
from functools import wraps
from threading import Lock
from typing import TYPE_CHECKING, Any, Concatenate, ParamSpec, TypeVar

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
        How many results are kept; the longest unused go first.

    Returns
    -------
    callable
        Takes a site and arguments that can be compared. What it gives is shared: nobody may change
        it.
    """

    def decorate(function: Function[More, Made]) -> Function[More, Made]:
        held: OrderedDict[Hashable, tuple[Any, Made]] = OrderedDict()
        lock = Lock()

        @wraps(function)
        def made(site: Site, /, *args: More.args, **named: More.kwargs) -> Made:
            frames = tuple(site.tables.get(name) for name in tables)
            # a table that is not there is empty in a site, and an error in a part of one
            without = type(site) if any(frame is None for frame in frames) else None
            key = (site.crs, *map(id, frames), without, args, tuple(sorted(named.items())))
            with lock:
                if key in held:
                    held.move_to_end(key)
                    return held[key][1]
            result = function(site.part(tables), *args, **named)
            with lock:
                held[key] = frames, result  # with the frames, whose places nobody else takes then
                while len(held) > most:
                    held.popitem(last=False)
            return result

        return made

    return decorate
