"""Compiling kernels to machine code, kept on disk under a key that holds all that shapes it.

A compiled kernel served after its source has changed would make a reading or a proof lie. So what is kept on disk
lies in a folder named by the SHA-256 of the text of the kernels' module and of every module it takes functions or
constants from, of this module, of the compiler's versions and of its settings: a change can only ever meet an empty
folder. Within it each set of options has a folder of its own. The processor's kind is looked at by the compiler.
"""

from __future__ import annotations

import hashlib
import os
import tempfile
from collections.abc import Callable
from importlib.metadata import version
from pathlib import Path
from typing import Any, TypeVar

import numba

Kernel = TypeVar("Kernel", bound=Callable[..., Any])


VERSIONS = (numba.__version__, version("llvmlite"))
SETTINGS = (
    "OPT",
    "LOOP_VECTORIZE",
    "SLP_VECTORIZE",
    "BOUNDSCHECK",
    "DEBUGINFO_DEFAULT",
    "CPU_NAME",
    "CPU_FEATURES",
)


def source_key(*sources: str) -> str:
    """Sixteen hex digits of the SHA-256 of the modules' texts, in the order given, and of the compiler as it is set."""
    settings = [(name, getattr(numba.config, name, None)) for name in SETTINGS]
    by = f"{VERSIONS} {settings}".encode()
    text = b"\0".join([*(Path(source).read_bytes() for source in (*sources, __file__)), by])
    return hashlib.sha256(text).hexdigest()[:16]


def options_key(options: dict[str, Any]) -> str:
    """Eight hex digits of the SHA-256 of compile options; sets among them in order, so that the digits stay the same."""
    plain = {k: sorted(v) if isinstance(v, set) else v for k, v in options.items()}
    return hashlib.sha256(repr(sorted(plain.items())).encode()).hexdigest()[:8]


def _base_folder(source: str) -> Path:
    """Beside the module where that can be written, else in the user's cache folder, else in a temporary one."""
    beside = Path(source).parent / "__pycache__"
    user = Path(os.environ.get("XDG_CACHE_HOME", Path.home() / ".cache")) / "sparwright"
    for folder in (beside, user):
        try:
            folder.mkdir(parents=True, exist_ok=True)
            if os.access(folder, os.W_OK):
                return folder
        except OSError:
            continue
    return Path(tempfile.gettempdir()) / "sparwright-kernels"


def kernel_folder(*sources: str) -> Path:
    """The folder that holds the compiled kernels of the module at the first of `sources`, for their present text."""
    given = numba.config.CACHE_DIR
    return (Path(given) if given else _base_folder(sources[0])) / f"kernels-{source_key(*sources)}"


def kernel_compiler(
    *sources: str, inner: bool = False, reorder: bool = False, borrows: bool = False
) -> Callable[[Kernel], Kernel]:
    """A decorator that compiles functions on first call.

    sources: the `__file__` of the module that holds the kernels, then of those it takes functions or constants
    from. Division by zero gives inf or nan, as in numpy. Compiled code is kept in `kernel_folder(*sources)`.
    inner: the function is only called by other kernels, which saves compiling a door for Python. reorder: sums may be
    added up in any order, which lets the processor add several numbers at a time. borrows: the function makes no
    arrays and hands none back, it only works on those its caller holds; then nobody counts who holds them, which
    otherwise takes longer than the work on a short row.
    """
    options: dict[str, Any] = {"no_cfunc_wrapper": True, "nogil": True, "error_model": "numpy"}
    if inner:
        options["no_cpython_wrapper"] = True
    if reorder:
        options["fastmath"] = {"reassoc", "nsz"}
    if borrows:
        options["_nrt"] = False
    folder = kernel_folder(*sources) / options_key(options)

    def compiled(function: Kernel) -> Kernel:
        before = numba.config.CACHE_DIR
        numba.config.CACHE_DIR = str(folder)
        try:
            kernel: Kernel = numba.njit(cache=True, **options)(function)
        finally:
            numba.config.CACHE_DIR = before
        return kernel

    return compiled


def is_compiled(*sources: str, kernel: str = "") -> bool:
    """Whether a kernel of these sources, the one of that name or any, has been compiled and kept as they now are."""
    return any(kernel_folder(*sources).rglob(f"*{kernel}*.nbc" if kernel else "*.nbc"))
