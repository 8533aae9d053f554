"""A changed kernel is never served stale from what was compiled before."""

import os
import shutil
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


def test_a_change_in_any_module_of_the_simulation_is_compiled_anew(tmp_path):
    """The simulation's kernels call one another across modules: each is kept under the text of them all."""
    folder = tmp_path / "kernels"
    shutil.copytree(Path(kernels.__file__).parent, folder, ignore=shutil.ignore_patterns("__pycache__"))
    sources = [str(folder / Path(s).name) for s in kernels.SOURCES]
    assert sorted(Path(s).name for s in sources) == sorted(p.name for p in folder.glob("*.py"))
    keys = {compiled.source_key(*sources)}
    for source in sources:
        Path(source).write_text(Path(source).read_text() + "# changed\n")
        keys.add(compiled.source_key(*sources))
    assert len(keys) == len(sources) + 1


def test_an_edit_of_a_module_called_across_is_never_served_stale(tmp_path):
    """The hazard itself: a kernel of one module calls one of another, which is edited."""
    package = tmp_path / "kernel_sample"
    package.mkdir()
    package.joinpath("base.py").write_text(
        "from pathlib import Path\nfrom sparwright.compiled import kernel_compiler\n"
        "SOURCES = tuple(str(p) for p in sorted(Path(__file__).parent.glob('*.py')))\n"
        "kernel = kernel_compiler(*SOURCES)\n"
    )
    package.joinpath("__init__.py").write_text("from kernel_sample.outside import outer\n")
    package.joinpath("outside.py").write_text(
        "from kernel_sample.base import kernel\nfrom kernel_sample.inside import inner\n"
        "@kernel\ndef outer(x):\n    return inner(x) + 1.0\n"
    )
    for factor, result in ((3.0, "7.0"), (5.0, "11.0")):
        inside = package / "inside.py"
        inside.write_text(
            f"from kernel_sample.base import kernel\n@kernel\ndef inner(x):\n    return x * {factor}\n"
        )
        os.utime(inside, (1e9, 1e9))
        assert run(tmp_path) == result
        assert run(tmp_path) == result


def test_kernels_of_the_simulation_are_compiled_under_one_key():
    folder = Path(kernels.__file__).parent
    users = [
        p.name for p in folder.glob("*.py") if "njit" in p.read_text() or "kernel_compiler(" in p.read_text()
    ]
    assert users == ["base.py"]
    for path in folder.parent.glob("*.py"):
        assert "njit" not in path.read_text() or "kernel_compiler(" in path.read_text()
