"""The file on disk is the truth: changes from outside, steps back and forth, nothing half written."""

from __future__ import annotations

import os

import pytest
from page_help import copy_job

from sparwright.answers import BadInput
from sparwright.page.editing import Change
from sparwright.page.jobtext import JobText, Stale, write_whole

SKIN = ("field", 0, "skin")


@pytest.fixture
def text(tmp_path):
    return JobText(copy_job(tmp_path))


def skin(value):
    return [Change("job", SKIN, value)]


def test_an_edit_is_one_line_on_disk_and_can_be_taken_back_and_made_again(text):
    before, first = text.path.read_text(), text.digest
    os.chmod(text.path, 0o640)
    text.edit(first, skin(1.6))
    after = text.path.read_text()
    assert after == before.replace("skin = 1.2\n", "skin = 1.6\n")
    assert text.path.stat().st_mode & 0o777 == 0o640
    assert text.steps() == ("field[1].skin", None)
    second = text.digest
    text.undo(second)
    assert (text.path.read_text(), text.digest) == (before, first)
    assert text.steps() == (None, "field[1].skin")
    text.redo(first)
    assert (text.path.read_text(), text.digest) == (after, second)
    assert sorted(p.name for p in text.path.parent.iterdir() if p.name.startswith(".")) == []


def test_units_are_another_text_that_the_same_answers_answer(text):
    before, start = text.path.read_bytes(), text.digests
    text.edit(start.text, [Change("job", ("job", "units"), "inch")])
    assert text.path.read_bytes() != before
    assert text.digests.text != start.text
    assert text.digests.basis == start.basis
    with pytest.raises(Stale):
        text.edit(start.text, skin(2.0))
    text.edit(text.digest, skin(2.0))
    assert text.digests.basis != start.basis


def test_the_second_of_two_pages_is_refused_and_nothing_is_lost(text):
    start = text.digest
    text.edit(start, skin(1.6))
    held = text.path.read_text()
    for late in (lambda: text.edit(start, skin(2.0)), lambda: text.undo(start), lambda: text.redo(start)):
        with pytest.raises(Stale):
            late()
    assert text.path.read_text() == held


def test_a_change_from_outside_is_noticed_and_never_written_over(text):
    start = text.digest
    assert not text.poll()
    outside = text.path.read_text().replace("rib = 5", "rib = 6   # wider")
    text.path.write_text(outside)
    with pytest.raises(Stale):
        text.edit(start, skin(2.0))
    assert text.path.read_text() == outside
    assert text.digest != start
    assert text.steps()[0] == "a change made outside"
    text.edit(text.digest, skin(2.0))
    assert text.path.read_text() == outside.replace("skin = 1.2", "skin = 2.0".replace("2.0", "2"))
    text.undo(text.digest)
    text.undo(text.digest)
    assert text.digest == start


def test_touched_but_equal_is_no_change(text):
    start = text.digest
    os.utime(text.path, (1, 1))
    assert not text.poll()
    assert text.digest == start


def test_files_the_job_names_are_watched(text):
    cutters = text.path.parent / "cutters.toml"
    cutters.write_text(cutters.read_text().replace("chip = 0.04", "chip = 0.05"))
    assert text.poll()
    text.edit(text.digest, [Change("cutters", ("cutter", 0, "chip"), 0.03)])
    assert "chip = 0.03\n" in cutters.read_text()


def test_going_back_over_another_file_of_cutters_leaves_it_alone(text):
    other = text.path.parent / "other.toml"
    other.write_text((text.path.parent / "cutters.toml").read_text().replace("0.04", "0.05"))
    held = other.read_text()
    text.edit(text.digest, [Change("cutters", ("cutter", 0, "chip"), 0.03)])
    text.edit(text.digest, [Change("job", ("job", "cutters"), "other.toml")])
    text.undo(text.digest)
    text.undo(text.digest)
    assert other.read_text() == held
    assert "chip = 0.04\n" in (text.path.parent / "cutters.toml").read_text()


def test_only_the_job_and_its_cutters_can_be_changed(text):
    for part in ("bed", "served", "section", "../job"):
        with pytest.raises(BadInput):
            text.edit(text.digest, [Change(part, ("name",), "x")])


def test_files_outside_the_folder_are_neither_read_nor_written(text):
    secret = text.path.parent.parent / "secret.toml"
    secret.write_text("[[cutter]]\nchip = 1\n")
    text.path.write_text(text.path.read_text().replace('"cutters.toml"', '"../secret.toml"'))
    text.poll()
    assert "cutters" not in text.texts
    with pytest.raises(BadInput):
        text.edit(text.digest, [Change("cutters", ("cutter", 0, "chip"), 0.03)])
    assert secret.read_text() == "[[cutter]]\nchip = 1\n"


def test_a_broken_file_is_not_edited_and_its_other_files_stay_known(text):
    text.path.write_text(text.path.read_text() + "rib = = 3\n")
    assert text.poll()
    assert "cutters" in text.texts
    with pytest.raises(BadInput, match="mend it by hand"):
        text.edit(text.digest, skin(2.0))


def test_a_file_is_written_whole_or_not_at_all(tmp_path, monkeypatch):
    path = tmp_path / "a.toml"
    path.write_text("old")

    def fails(*_):
        raise OSError("the disk is full")

    monkeypatch.setattr(os, "replace", fails)
    with pytest.raises(OSError, match="full"):
        write_whole(path, b"new")
    assert path.read_text() == "old"
    assert list(tmp_path.iterdir()) == [path]


def test_a_link_stays_a_link(tmp_path):
    (tmp_path / "real").mkdir()
    real = tmp_path / "real" / "a.toml"
    real.write_text("old")
    link = tmp_path / "a.toml"
    link.symlink_to(real)
    write_whole(link, b"new")
    assert link.is_symlink()
    assert real.read_text() == "new"


@pytest.mark.parametrize("part", ["job", "bed", "cutters", "served"])
def test_a_change_made_outside_in_any_file_of_the_job_is_taken_back(text, part):
    path = text.files[part]
    before = path.read_bytes()
    path.write_bytes(before + b"\n# one line more\n")
    assert text.poll()
    assert text.steps() == ("a change made outside", None)
    text.undo(text.digest)
    assert path.read_bytes() == before
    text.redo(text.digest)
    assert path.read_bytes() == before + b"\n# one line more\n"
