#!/usr/bin/env python3
"""Set up Sparwright on this machine and run it. Needs nothing but Python 3.11, 3.12 or 3.13.

    python3 run.py demo              plan the demo job and write its packet to out/bridge-beam
    python3 run.py test              run every check and test (add --slow for the long ones)
    python3 run.py page JOB          the job page in the browser
    python3 run.py plan JOB ...      any sparwright command; python3 run.py --help lists them

The environment goes into .venv beside this file and is made anew when the locked requirements change.
"""

from __future__ import annotations

import hashlib
import os
import shutil
import subprocess
import sys
from pathlib import Path

HERE = Path(__file__).resolve().parent
VENV = HERE / ".venv"
BIN = VENV / ("Scripts" if os.name == "nt" else "bin")
PYTHON = BIN / ("python.exe" if os.name == "nt" else "python")
SUPPORTED = ((3, 11), (3, 12), (3, 13))


def stop(text: str) -> None:
    """End with a plain sentence on standard error."""
    sys.exit(f"run.py: {text}")


def use_a_supported_python() -> None:
    """Start again under a Python that is supported, or say which one to install."""
    if sys.version_info[:2] in SUPPORTED:
        return
    for major, minor in SUPPORTED:
        other = shutil.which(f"python{major}.{minor}")
        works = other and subprocess.run([other, "-c", ""], capture_output=True, check=False).returncode == 0
        if other and works:
            sys.exit(subprocess.run([other, str(HERE / "run.py"), *sys.argv[1:]], check=False).returncode)
    stop(
        f"this is Python {sys.version_info[0]}.{sys.version_info[1]}; Python 3.11, 3.12 or 3.13 is needed. "
        "Install one of them (Debian and Ubuntu: apt install python3.11 python3.11-venv) and run this again."
    )


def make_environment() -> None:
    """Create the bare environment, or say what is missing for it."""
    try:
        import ensurepip  # noqa: F401
        import venv
    except ImportError:
        stop(
            "this Python has no venv. On Debian and Ubuntu: "
            f"apt install python3.{sys.version_info[1]}-venv; then run this again."
        )
    print("Setting up .venv (once, about a minute) ...", file=sys.stderr, flush=True)
    venv.EnvBuilder(with_pip=True, clear=True, symlinks=os.name != "nt").create(VENV)


def install(lock: Path) -> None:
    """Install exactly what the lock file names, then this package, without compiling anything."""
    uv = shutil.which("uv")
    pip = (
        [uv, "pip", "install", "--quiet", "--python", str(PYTHON)]
        if uv
        else [str(PYTHON), "-m", "pip", "install", "--quiet", "--disable-pip-version-check"]
    )
    done = subprocess.run([*pip, "--only-binary", ":all:", "--require-hashes", "-r", str(lock)], check=False)
    if done.returncode:
        stop(
            "a package named above could not be installed. Sparwright needs ready-made wheels of all its libraries: "
            "64-bit Linux on x86, macOS 14 or newer, or Windows, with Python 3.11 to 3.13 and a network connection. "
            "See the message above, then run this again."
        )
    if subprocess.run([*pip, "--no-deps", "-e", str(HERE)], check=False).returncode:
        stop("the package itself could not be installed; see the message above.")


def ensure(lock_name: str) -> None:
    """Bring .venv up to the lock file; a stamp makes this cost nothing the next time."""
    lock = HERE / "requirements" / lock_name
    stamp = VENV / f"stamp-{lock_name}"
    built_from = lock.read_bytes() + (HERE / "pyproject.toml").read_bytes()
    key = hashlib.sha256(built_from + sys.version.encode()).hexdigest()
    if stamp.exists() and stamp.read_text() == key and PYTHON.exists():
        return
    base = VENV / "stamp-python"
    if not PYTHON.exists() or not base.exists() or base.read_text() != sys.version:
        make_environment()
        base.write_text(sys.version)
    install(lock)
    stamp.write_text(key)


def run(*command: str) -> int:
    """Run a command of the environment from the project's folder; its exit status."""
    print("+", " ".join([Path(command[0]).name, *command[1:]]), file=sys.stderr, flush=True)
    return subprocess.run(command, cwd=HERE, check=False).returncode


def test(extra: list[str]) -> int:
    """Style, types, order of the rooms, then every test."""
    ensure("test.txt")
    python = str(PYTHON)
    chosen = [a for a in extra if a != "--slow"]
    for command in (
        (python, "-m", "ruff", "check", "."),
        (python, "-m", "ruff", "format", "--check", "."),
        (python, "-m", "mypy"),
        (str(BIN / "lint-imports"), "--no-logo"),
    ):
        if not chosen and run(*command):
            return 1
    which = [] if "--slow" in extra else ["-m", "not slow"]
    return run(python, "-m", "pytest", "-n", "2", "--dist", "loadgroup", *which, *chosen)


def main() -> int:
    """Do what the command line asks."""
    use_a_supported_python()
    words = sys.argv[1:] or ["--help"]
    if words[0] == "test":
        return test(words[1:])
    ensure("run.txt")
    if words[0] == "demo":
        job = HERE / "examples" / "bridge-beam" / "job.toml"
        words = ["plan", str(job), "--out", str(HERE / "out" / "bridge-beam"), *words[1:]]
    with subprocess.Popen([str(PYTHON), "-m", "sparwright.cli", *words]) as command:
        while True:
            try:
                return command.wait()
            except KeyboardInterrupt:
                pass  # Ctrl+C reaches the command too, which says what it leaves behind


if __name__ == "__main__":
    sys.exit(main())
