"""A changed kernel is never served stale from what was compiled before."""

import ast
import os
import shutil
import subprocess
import sys
from pathlib import Path

import numpy as np

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
    ours = Path(compiled.__file__).parents[1]
    env = {**os.environ, "PYTHONPATH": f"{folder}{os.pathsep}{ours}", "PYTHONDONTWRITEBYTECODE": "1"}
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


def test_other_options_or_settings_are_compiled_anew(tmp_path, monkeypatch):
    """The same text compiled otherwise never meets what is kept: options, the compiler's version and its settings."""
    (tmp_path / "kernel_sample.py").write_text(MODULE.format(factor="3.0"))
    assert run(tmp_path) == "7.0"
    monkeypatch.setenv("NUMBA_OPT", "1")
    assert run(tmp_path) == "7.0"
    assert len({p.relative_to(tmp_path).parts[1] for p in tmp_path.rglob("*.nbc")}) == 2
    source = str(tmp_path / "kernel_sample.py")
    before = compiled.source_key(source)
    for versions in (("0.0.1", compiled.VERSIONS[1]), (compiled.VERSIONS[0], "0.0.1")):
        with monkeypatch.context() as other:
            other.setattr(compiled, "VERSIONS", versions)
            assert compiled.source_key(source) != before
    with monkeypatch.context() as other:
        other.setattr(compiled, "__file__", source)
        assert compiled.source_key(source) != before


def test_each_set_of_options_has_a_folder_of_its_own(tmp_path):
    source = tmp_path / "kernel_sample.py"
    source.write_text("def add(x):\n    return x[0] + x[1]\n")
    space: dict = {}
    exec(compile(source.read_text(), str(source), "exec"), space)
    x, folders = np.ones(2), set()
    choices = ({}, {"reorder": True}, {"borrows": True}, {"reorder": True, "borrows": True})
    for count, options in enumerate(choices, 1):
        for _ in range(2):
            assert compiled.kernel_compiler(str(source), **options)(space["add"])(x) == 2.0
        folders = {p.relative_to(tmp_path).parts[2] for p in tmp_path.rglob("*add*.nbc")}
        assert len(folders) == count
    assert compiled.is_compiled(str(source), kernel="add")
    assert not compiled.is_compiled(str(source), kernel="cut_tile")
    assert compiled.options_key({"fastmath": {"nsz", "reassoc"}}) == compiled.options_key(
        {"fastmath": {"reassoc", "nsz"}}
    )


def test_kernels_that_borrow_make_no_arrays():
    """Without a count of holders an array made or handed back would be lost or freed too soon."""
    found = 0
    for path in Path(kernels.__file__).parent.glob("*.py"):
        for node in ast.walk(ast.parse(path.read_text())):
            if isinstance(node, ast.FunctionDef) and {getattr(d, "id", "") for d in node.decorator_list} & {
                "inner",
                "summing",
            }:
                found += 1
                called = {ast.unparse(c.func) for c in ast.walk(node) if isinstance(c, ast.Call)}
                made = {"np.empty", "np.zeros", "np.ones", "np.full", "np.array", "list", "dict", "set"}
                assert not called & made, f"{path.name}: {node.name}"
                assert not [c for c in called if c.endswith((".copy", ".append"))], (
                    f"{path.name}: {node.name}"
                )
    assert found > 20
