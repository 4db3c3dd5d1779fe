"""The command in a process of its own that ends with the process which started it.

    python -P -m geoprofile.cli._alone run FOLDER

Its standard input is a pipe on which nothing is ever said: when it ends, the other process is gone.
"""

from __future__ import annotations

import os
import threading


def _end_with_input() -> None:
    while os.read(0, 1):
        pass
    os._exit(1)  # as when it is killed: what is not stored whole is not stored


if __name__ == "__main__":
    threading.Thread(target=_end_with_input, daemon=True).start()
    from geoprofile.cli import main

    main()
