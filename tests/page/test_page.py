"""The page's state follows the file: edits, tries, mistakes from outside, undo."""

from __future__ import annotations

import subprocess
import sys
import time

import pytest

from sparwright.page.session import CALM

SKIN = {"file": "job", "path": ["field", 0, "skin"]}


@pytest.fixture(scope="module")
def ready(page):
    return page.until(lambda s: all(b["status"] == "fresh" for b in s["bands"][:2]) and s["good"])


def answered(state):
    return state["bands"][0]["as_of"] == state["digest"] and state["bands"][0]["status"] == "fresh"


def test_the_first_two_questions_have_quick_answers(ready):
    first, second = ready["bands"][:2]
    assert [b["question"] for b in ready["bands"]] == [1, 2, 3, 4, 5, 6]
    assert first["verdict"] == "go"
    assert 0.5 < first["margin"]["used"] < 1
    assert "twist" in first["headline"]
    assert second["verdict"] == "go"
    assert ready["title"] == "Bridge beam"
    kinds = {c["path"][-1]: c["kind"] for c in ready["controls"]}
    assert kinds["skin"] == "number"
    assert kinds["pocket"] == "choice"
    assert kinds["faces"] == "many"
    assert kinds["chip"] == "number"


def test_a_try_tells_what_would_be_and_writes_nothing(page, ready):
    before = page.job.read_bytes()
    status, reply = page.post("try", {"digest": ready["digest"], "changes": [SKIN | {"value": 3.0}]})
    assert status == 200
    assert page.job.read_bytes() == before
    assert reply["digest"] != ready["digest"]
    tried = {f["name"]: f["value"] for f in reply["bands"][0]["findings"]}
    known = {f["name"]: f["value"] for f in ready["bands"][0]["findings"]}
    assert tried["twist kept"] > known["twist kept"] + 5
    assert tried["mass out"] < known["mass out"] - 0.1
    status, reply = page.post("try", {"digest": ready["digest"], "changes": [SKIN | {"value": 60}]})
    assert status == 200
    assert reply["message"]["text"].startswith("job.toml, line 28: ")
    assert reply["message"]["line"] == 28


def test_the_first_part_of_a_try_is_the_mass_of_the_whole(page, ready):
    body = {"digest": ready["digest"], "changes": [SKIN | {"value": 2.2}]}
    _, first = page.post("try", body | {"first": True})
    _, whole = page.post("try", body)
    assert first["digest"] == whole["digest"]
    (mass,) = first["bands"][0]["findings"]
    assert mass["name"] == "mass out"
    assert mass in whole["bands"][0]["findings"]
    _, wrong = page.post("try", body | {"changes": [SKIN | {"value": 60}], "first": True})
    assert wrong["message"]["line"] == 28


def test_an_edit_is_written_answered_and_undone(page, ready):
    before = page.job.read_text()
    status, _ = page.post("edit", {"digest": page.state()["digest"], "changes": [SKIN | {"value": 3.0}]})
    assert status == 200
    assert page.job.read_text() == before.replace("skin = 1.2", "skin = 3")
    state = page.until(answered)
    assert state["undo"] == "field[1].skin"
    twist = {f["name"]: f["value"] for f in state["bands"][0]["findings"]}["twist kept"]
    page.post("undo", {"digest": state["digest"]})
    assert page.job.read_text() == before
    state = page.until(answered)
    assert {f["name"]: f["value"] for f in state["bands"][0]["findings"]}["twist kept"] < twist
    assert state["redo"] == "field[1].skin"


def test_a_mistake_from_outside_is_told_with_its_line_and_the_last_answers_stay(page, ready):
    before = page.job.read_text()
    page.job.write_text(before.replace("rib = 5", "rip = 5"))
    # the file may be looked at while it is still empty: the message wanted is the one on the whole of it
    state = page.until(lambda s: s["message"] and s["message"]["line"])
    assert state["message"]["line"] == 27
    assert state["message"]["file"] == "job.toml"
    assert 'Did you mean "rib"?' in state["message"]["text"]
    assert {b["status"] for b in state["bands"]} == {"stale"}
    assert state["bands"][0]["headline"]
    page.job.write_text(before)
    state = page.until(lambda s: s["message"] is None and answered(s))
    assert page.job.read_text() == before


def test_a_job_that_is_gone_is_told_and_comes_back(page, ready):
    before = page.job.read_bytes()
    page.job.unlink()
    state = page.until(lambda s: s["message"])
    assert "there is no file" in state["message"]["text"]
    page.job.write_bytes(before)
    page.until(lambda s: s["message"] is None and answered(s))


def test_rows_are_set_and_left_to_the_field_again(page, ready):
    before = page.job.read_text()
    rows = {"file": "job", "path": ["field", 0, "rows"]}
    control = next(c for c in page.state()["controls"] if c["path"] == rows["path"])
    assert (control["value"], control["auto"]) == (None, True)
    assert page.post("edit", {"digest": page.state()["digest"], "changes": [rows | {"value": 1}]})[0] == 200
    state = page.until(answered)
    assert next(c for c in state["controls"] if c["path"] == rows["path"])["value"] == 1
    page.post("edit", {"digest": state["digest"], "changes": [rows | {"value": None}]})
    page.until(answered)
    assert page.job.read_text() == before


def test_another_file_of_cutters_can_be_chosen(page):
    other = page.job.with_name("my-cutters.toml")
    text = page.job.with_name("cutters.toml").read_text()
    other.write_text(text.replace("chip = 0.04", "chip = 0.033"))
    before = page.job.read_text()
    page.job.write_text(before + "\n")
    try:
        state = page.until(lambda s: answered(s) and any(c["id"] == "job:job.cutters" for c in s["controls"]))
        (control,) = (c for c in state["controls"] if c["id"] == "job:job.cutters")
        assert control["choices"] == ["cutters.toml", "my-cutters.toml"]
        change = {"file": control["file"], "path": control["path"], "value": "my-cutters.toml"}
        status, reply = page.post("edit", {"digest": state["digest"], "changes": [change]})
        assert (status, reply.get("refused")) == (200, None)
        state = page.until(
            lambda s: (
                answered(s) and any(c["value"] == 0.033 for c in s["controls"] if c["file"] == "cutters")
            )
        )
    finally:
        page.job.write_text(before)
        other.unlink()
    page.until(answered)


def test_the_whole_plan_waits_to_be_asked_for(page):
    state = page.until(lambda s: answered(s) and s["bands"][1]["status"] == "fresh")
    assert state["when_asked"] is True
    time.sleep(2 * CALM)
    assert not page.state()["work"]["running"]
    page.post("plan", {})
    page.until(lambda s: s["work"]["running"])
    page.post("stop", {})
    page.until(lambda s: s["work"]["stopped"])


def test_the_first_answers_wait_for_no_compiler():
    words = "import sys, sparwright.page.quick, sparwright.page.fields, sparwright.page.pictures, sparwright.page.bands"
    words += "; print(sorted(m for m in ('numba', 'llvmlite', 'matplotlib', 'typst', 'distributed') if m in sys.modules))"
    told = subprocess.run([sys.executable, "-c", words], capture_output=True, text=True, check=True).stdout
    assert told == "[]\n"
