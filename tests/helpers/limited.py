"""Run the command line in a process of its own that has little time and memory, and see what it took.

Every such process is forked from one that has loaded the program once, which spares each the time to load it anew.
"""

import os
import re
import sys
import tempfile
from multiprocessing import get_context
from pathlib import Path

from helpers.runs import Ran

USED = "USED "
LOADED = (
    "facegraphic.cli.check", "facegraphic.cli.make", "facegraphic.drill.nc", "facegraphic.drill.dxf",
    "facegraphic.job.depth", "PIL.Image", "cairosvg.parser", "cairosvg.surface",
)  # fmt: skip


def run_limited(*words: object, cwd: Path, seconds: int, addresses: int) -> tuple[Ran, int]:
    """How a command ended in a folder, and the most memory that it held, in kB.

    It has some seconds of the processor, which loading the program is no part of, and some bytes of addresses. The
    status is negative where a signal ended it, as that of a subprocess is.
    """
    forking = get_context("forkserver")
    forking.set_forkserver_preload(list(LOADED))
    with tempfile.TemporaryDirectory() as place:
        told = [str(word) for word in words]
        process = forking.Process(target=_run, args=(told, cwd, Path(place), seconds, addresses))
        process.start()
        process.join(120)
        if process.exitcode is None:
            process.kill()
            process.join()
        out, err = ((Path(place) / name).read_text(encoding="utf-8") for name in ("out", "err"))
    talk, used = err.rsplit(USED, 1) if USED in err else (err, "0")  # one that a signal has ended tells nothing
    return Ran(process.exitcode or 0, out, talk), int(used)


def _run(words: list[str], folder: Path, place: Path, seconds: int, addresses: int) -> None:
    import resource

    for number, name in enumerate(("out", "err"), 1):
        os.dup2(os.open(place / name, os.O_WRONLY | os.O_CREAT), number)
    os.chdir(folder)
    resource.setrlimit(resource.RLIMIT_CPU, (seconds, seconds))
    resource.setrlimit(resource.RLIMIT_AS, (addresses, addresses))
    from facegraphic.cli.main import run

    try:
        run(words)
    finally:
        sys.stdout.flush()
        sys.stderr.flush()
        os.write(2, f"{USED}{_peak()}\n".encode())


def _peak() -> int:
    # What getrusage tells holds the peak of the process that started this one too; the kernel's own figure does not.
    status = Path("/proc/self/status")
    if status.exists():
        found = re.search(r"VmHWM:\s+(\d+)", status.read_text(encoding="utf-8"))
        return int(found[1]) if found else 0
    import resource

    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // (1024 if sys.platform == "darwin" else 1)
