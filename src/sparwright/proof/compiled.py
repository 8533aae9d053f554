"""Compiling kernels to machine code, kept on disk under a key that holds their source text.

A compiled kernel served after its source has changed would make the proof lie. So all kernels live in one
module, and what is kept on disk lies in a folder named by the SHA-256 of that module's text: a changed text
can only ever meet an empty folder.
"""

from __future__ import annotations

import hashlib
import os
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar

import numba

Kernel = TypeVar("Kernel", bound=Callable[..., Any])


def source_key(source: str) -> str:
    """Sixteen hex digits of the SHA-256 of a kernel module's text and of the compiler's version."""
    text = Path(source).read_bytes() + numba.__version__.encode()
    return hashlib.sha256(text).hexdigest()[:16]


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


def kernel_folder(source: str) -> Path:
    """The folder that holds the compiled kernels of the module at `source`, for its present text."""
    given = numba.config.CACHE_DIR
    return (Path(given) if given else _base_folder(source)) / f"kernels-{source_key(source)}"


def kernel_compiler(source: str, *, inner: bool = False) -> Callable[[Kernel], Kernel]:
    """A decorator that compiles the functions of the module at `source` (its `__file__`) on first call.

    Division by zero gives inf or nan, as in numpy. Compiled code is kept in `kernel_folder(source)`. inner: the
    function is only called by other kernels, which saves compiling a door for Python.
    """
    folder = kernel_folder(source)
    doors = {"no_cpython_wrapper": True, "no_cfunc_wrapper": True} if inner else {"no_cfunc_wrapper": True}

    def compiled(function: Kernel) -> Kernel:
        before = numba.config.CACHE_DIR
        numba.config.CACHE_DIR = str(folder)
        try:
            kernel: Kernel = numba.njit(cache=True, nogil=True, error_model="numpy", **doors)(function)
        finally:
            numba.config.CACHE_DIR = before
        return kernel

    return compiled


def is_compiled(source: str) -> bool:
    """Whether any kernel of the module at `source` has been compiled and kept for its present text."""
    return any(kernel_folder(source).rglob("*.nbc"))
