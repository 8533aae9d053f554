"""Whatever is done to a job file, it loads or is refused with one message that has a line and a remedy."""

import shutil
from pathlib import Path

from hypothesis import given, settings
from hypothesis import strategies as st

from sparwright.job.reading import JobError, load_job

EXAMPLE = Path(__file__).parents[2] / "examples" / "bridge-beam"
FILES = ("job.toml", "bench-router.toml", "cutters.toml", "plotter.toml")
JUNK = ("-1", "0", "1e300", "nan", "inf", "true", '""', '"abc"', '"5 kg"', '"50 %"', "[]", "[1, 2]", "[[1], 2]", "{}",
        "{ a = 1 }", "2020-01-01", "'''\nx'''", "", "[", "18000", '"1/4 in"', '"front"', "99999999999999999999")  # fmt: skip


def _changed(text: str, source: st.DataObject) -> str:
    lines = text.split("\n")
    for _ in range(source.draw(st.integers(1, 3))):
        at = source.draw(st.integers(0, len(lines) - 1))
        what = source.draw(st.sampled_from(["drop", "twice", "value", "key", "swap"]))
        key, equals, _ = lines[at].partition("=")
        if what == "drop":
            lines[at] = ""
        elif what == "twice":
            lines[at] += "\n" + lines[at]
        elif what == "value" and equals:
            lines[at] = f"{key}= {source.draw(st.sampled_from(JUNK))}"
        elif what == "key":
            lines[at] = lines[at][:1] + "x" + lines[at][1:]
        else:
            other = source.draw(st.integers(0, len(lines) - 1))
            lines[at], lines[other] = lines[other], lines[at]
    return "\n".join(lines)


@settings(max_examples=120, deadline=None)
@given(source=st.data())
def test_any_change(source, tmp_path_factory):
    folder = tmp_path_factory.mktemp("job")
    for name in FILES:
        shutil.copy(EXAMPLE / name, folder)
    changed = folder / source.draw(st.sampled_from(FILES))
    text = _changed(changed.read_text(encoding="utf-8"), source)
    changed.write_text(text, encoding="utf-8")
    error = _refusal(folder / "job.toml")
    if error is not None:
        blamed = Path(error.file)
        assert blamed.is_file()
        assert 1 <= error.line <= blamed.read_text(encoding="utf-8").count("\n") + 1
        assert str(error).startswith(f"{error.file}, line {error.line}: ")
        assert error.remedy or error.allowed or ";" in error.what, str(error)
        assert [other.line for other in error.others] == sorted(other.line for other in error.others)
        assert all(other.line >= error.line for other in error.others)


def _refusal(path: Path) -> JobError | None:
    try:
        load_job(path)
    except JobError as error:
        return error
    return None
