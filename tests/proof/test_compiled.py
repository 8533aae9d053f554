"""A changed kernel is never served stale from what was compiled before."""

import os
import subprocess
import sys
from pathlib import Path

from sparwright import compiled
from sparwright.proof import kernels

MODULE = """
from sparwright.compiled import kernel_compiler
kernel = kernel_compiler(__file__)

@kernel
def inner(x):
    return x * {factor}

@kernel
def outer(x):
    return inner(x) + 1.0
"""


def run(folder: Path) -> str:
    code = "import kernel_sample, sys; sys.stdout.write(str(kernel_sample.outer(2.0)))"
    env = {**os.environ, "PYTHONPATH": str(folder), "PYTHONDONTWRITEBYTECODE": "1"}
    done = subprocess.run([sys.executable, "-c", code], env=env, capture_output=True, text=True, check=True)
    return done.stdout


def test_an_edit_of_the_same_size_and_time_is_compiled_anew(tmp_path):
    source = tmp_path / "kernel_sample.py"
    source.write_text(MODULE.format(factor="3.0"))
    os.utime(source, (1e9, 1e9))
    assert run(tmp_path) == "7.0"
    assert run(tmp_path) == "7.0"
    kept = {p.parent.parent for p in tmp_path.rglob("*.nbc")}
    assert len(kept) == 1
    source.write_text(MODULE.format(factor="5.0"))
    os.utime(source, (1e9, 1e9))
    assert run(tmp_path) == "11.0"
    assert len({p.parent.parent for p in tmp_path.rglob("*.nbc")}) == 2


def test_a_constant_of_another_module_is_never_served_stale(tmp_path):
    text = MODULE.replace("kernel_compiler(__file__)", "kernel_compiler(__file__, figures.__file__)")
    text = "import figures\nfrom figures import FACTOR\n" + text.format(factor="FACTOR")
    (tmp_path / "kernel_sample.py").write_text(text)
    for factor, result in ((3.0, "7.0"), (5.0, "11.0")):
        (tmp_path / "figures.py").write_text(f"FACTOR = {factor}\n")
        os.utime(tmp_path / "figures.py", (1e9, 1e9))
        assert run(tmp_path) == result


def test_key_holds_the_whole_text(tmp_path):
    a, b = tmp_path / "a.py", tmp_path / "b.py"
    a.write_text("x = 1\n")
    b.write_text("x = 2\n")
    assert compiled.source_key(str(a)) != compiled.source_key(str(b))
    b.write_text("x = 1\n")
    assert compiled.source_key(str(a)) == compiled.source_key(str(b))
    assert not compiled.is_compiled(str(a))


def test_all_kernels_live_in_one_module():
    folder = Path(kernels.__file__).parent
    users = [
        p.name for p in folder.glob("*.py") if "njit" in p.read_text() or "kernel_compiler(" in p.read_text()
    ]
    assert sorted(users) == ["kernels.py"]
