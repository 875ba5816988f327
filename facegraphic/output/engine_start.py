"""cairocffi, without what takes it a fifth of a second each time.

It reads 80 kB of C declarations whenever it is imported, and then asks other programs where the cairo library lies.
cffi can keep declarations that have been read as Python (its "out-of-line ABI mode"), which load in a hundredth of the
time. They are kept as Python keeps its own byte code, in __pycache__ beside this module, under a name that changes with
what they are made from; whoever deletes them loses one start. Where anything is unusual, cairocffi is imported as ever.
"""

import ctypes.util
import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from importlib import import_module
from importlib.machinery import SourceFileLoader, SourcelessFileLoader
from importlib.util import cache_from_source, find_spec, module_from_spec, spec_from_loader
from pathlib import Path
from types import ModuleType
from typing import Any
from zlib import crc32

DECLARING = "cairocffi.ffi"  # the module that reads the declarations
WITH_MORE = "xcffib"  # where this is installed, cairocffi declares more than is kept here


def load() -> Any:
    """The cairocffi module. OSError if the cairo library is not on this system."""
    if "cairocffi" not in sys.modules:
        try:
            _load_quickly()
        except Exception:  # of any kind: it is only haste that has failed
            _forget()
    return import_module("cairocffi")


def _forget() -> None:
    """Leave nothing of what has failed, here or on the disk, where it would fail again."""
    sys.modules.pop(DECLARING, None)
    with suppress(Exception):
        kept().unlink(missing_ok=True)


def kept() -> Path:
    """Where the declarations are kept that fit what is installed. LookupError where none can be."""
    declared = _declared()
    if find_spec(WITH_MORE):
        raise LookupError
    backend = import_module("_cffi_backend").__version__
    key = crc32(declared.read_bytes() + backend.encode())
    return Path(cache_from_source(str(Path(__file__).with_name(f"cairo_{key:08x}.py"))))


def _declared() -> Path:
    """cairocffi's module of constants, found without importing any of it."""
    package = find_spec("cairocffi")
    if package is None or package.origin is None:
        raise LookupError
    return Path(package.origin).with_name("constants.py")


def _load_quickly() -> None:
    place = kept()
    if not place.exists():
        if sys.dont_write_bytecode or not _may_write(place):
            raise LookupError  # before they are read, which is then done but once
        _keep(place)
    sys.modules[DECLARING] = _module(SourcelessFileLoader(DECLARING, str(place)))
    with _library_by_name():
        import_module("cairocffi")


def _may_write(place: Path) -> bool:
    folder = next(parent for parent in place.parents if parent.exists())
    return os.access(folder, os.W_OK)


def _keep(place: Path) -> None:
    """Read the declarations as cairocffi does, and write them down whole or not at all."""
    import py_compile
    from tempfile import TemporaryDirectory

    from cffi import FFI

    constants = _module(SourceFileLoader("cairo_constants", str(_declared())))
    reader = FFI()
    reader.cdef(constants._CAIRO_HEADERS)
    reader.set_source(DECLARING, None, compiler_verbose=False)
    with TemporaryDirectory() as folder:
        written = Path(folder) / "declarations.py"
        reader.emit_python_code(str(written))
        mode = py_compile.PycInvalidationMode.UNCHECKED_HASH
        py_compile.compile(str(written), str(place), doraise=True, invalidation_mode=mode)


def _module(loader: SourceFileLoader | SourcelessFileLoader) -> ModuleType:
    spec = spec_from_loader(loader.name, loader)
    if spec is None:
        raise LookupError
    module = module_from_spec(spec)
    loader.exec_module(module)
    return module


@contextmanager
def _library_by_name() -> Iterator[None]:
    """Let cairocffi try its list of file names straight away, where they are found as any program's libraries are."""
    if sys.platform != "linux":
        yield
        return
    asked = ctypes.util.find_library
    ctypes.util.find_library = lambda name: None
    try:
        yield
    finally:
        ctypes.util.find_library = asked
