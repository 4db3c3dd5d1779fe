"""The command in a process of its own that ends with the process which started it.

    python -P -m geoprofile.cli._alone NAME OUT run FOLDER

Where OUT is given, what the site NAME then says is gathered there and told as the last line. The
standard input is a pipe on which nothing is ever said: when it ends, the other process is gone.
"""

from __future__ import annotations

import os
import sys
import threading


def _end_with_input() -> None:
    while os.read(0, 1):
        pass
    os._exit(1)  # as when it is killed: what is not stored whole is not stored


if __name__ == "__main__":
    threading.Thread(target=_end_with_input, daemon=True).start()
    from geoprofile.cli import main

    _, name, out, *words = sys.argv
    sys.argv[1:] = words
    told = os.dup(1)  # the command closes its own
    main()  # leaves with the exit code where that is not 0
    if out:
        from geoprofile.app.one_site import gathered

        os.write(told, f"\n{gathered(name, words[1], out)}\n".encode())
