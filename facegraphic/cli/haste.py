"""Settings of a process that save a tenth of its time. They are the program's to make, and no business of a library."""

import atexit
import gc
import os
from functools import cache

MADE_BETWEEN = 50_000  # objects that are made before the latest are looked through for garbage


@cache
def make_haste() -> None:
    """Let this process, and those that it starts and that call this too, leave out what gives a run nothing."""
    # Of what a job makes little ever lies in cycles; and at the end all of it goes at once, garbage or not.
    gc.set_threshold(MADE_BETWEEN)
    atexit.register(gc.freeze)
    # No large matrices are multiplied, for which numpy would start as many threads as there are cores.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
