"""The packet made from the page and opened as PDF, in a real browser, by hand and by keys alone; and what is refused."""

from __future__ import annotations

import json
import re
import shutil
import time

import pytest
from page_help import Page, copy_job, serve

from sparwright.answers import BadInput
from sparwright.job.reading import load_job
from sparwright.page.session import CALM, Session

playwright = pytest.importorskip("playwright.sync_api")
pytestmark = pytest.mark.xdist_group("browser")
MADE = re.compile(r"The packet is in the folder packet beside the job: \d+ files\.")


def make(tab) -> None:
    tab.get_by_role("button", name="Make the packet").click()
    playwright.expect(tab.locator("#packet")).to_contain_text(MADE, timeout=120_000)


def pages_of(pdf: bytes) -> int:
    return max(int(n) for n in re.findall(rb"/Count (\d+)", pdf))


def test_the_packet_is_made_beside_the_job_and_opened(opened, planned: Page):
    tab = opened(planned.address)
    assert planned.raw("GET", f"/{planned.word}/packet.pdf")[0] == 404
    make(tab)
    folder = planned.job.parent / "packet"
    pdf = (folder / "packet.pdf").read_bytes()
    assert pdf.startswith(b"%PDF-")
    assert pages_of(pdf) > 5
    assert sorted(p.name for p in (folder / "programs").iterdir())
    assert not list(planned.job.parent.glob(".packet*")), "nothing half made is left beside it"
    link = tab.get_by_role("link", name="Open its sheets")
    assert link.get_attribute("href") == "packet.pdf"
    status, headers, body = planned.raw("GET", f"/{planned.word}/packet.pdf")
    assert (status, headers["content-type"], body) == (200, "application/pdf", pdf)
    assert headers["content-disposition"].startswith("inline")
    fetched = tab.evaluate("fetch('packet.pdf').then((r) => r.blob()).then((b) => [b.type, b.size])")
    assert fetched == ["application/pdf", len(pdf)]


def test_a_packet_is_made_by_keys_and_replaces_the_old_one_whole(opened, planned: Page):
    tab = opened(planned.address)
    button = tab.get_by_role("button", name="Make the packet")
    playwright.expect(button).to_be_enabled()
    make(tab)
    (planned.job.parent / "packet" / "programs" / "stale.nc").write_text("old")
    tab.evaluate("document.activeElement.blur()")
    for _ in range(60):
        tab.keyboard.press("Tab")
        if button.evaluate("(b) => b === document.activeElement"):
            break
    else:
        raise AssertionError("it is not reached by the tab key")
    assert button.evaluate("(b) => getComputedStyle(b).outlineWidth") == "3px"
    tab.keyboard.press("Enter")
    playwright.expect(tab.locator("#packet")).to_contain_text("Making the packet")
    playwright.expect(tab.locator("#packet")).to_contain_text(MADE, timeout=120_000)
    assert not (planned.job.parent / "packet" / "programs" / "stale.nc").exists()
    tab.keyboard.press("Tab")
    assert tab.evaluate("document.activeElement.textContent") == "Open its sheets (PDF)"


def test_a_folder_that_holds_something_else_is_left_alone(opened, planned: Page):
    folder = planned.job.parent / "packet"
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir()
    (folder / "mine.txt").write_text("mine")
    try:
        tab = opened(planned.address)
        tab.get_by_role("button", name="Make the packet").click()
        playwright.expect(tab.get_by_role("alert")).to_contain_text(
            "holds something else than a packet; move it away"
        )
        assert [p.name for p in folder.iterdir()] == ["mine.txt"]
    finally:
        shutil.rmtree(folder)


def test_the_units_alone_leave_the_plan_and_change_the_packet(opened, planned: Page):
    text, before = planned.job.read_text(encoding="utf-8"), planned.state()
    folder = planned.job.parent / "packet"
    shutil.rmtree(folder, ignore_errors=True)
    tab = opened(planned.address)
    tab.get_by_role("button", name="5 Do the programs").click()
    thickness = tab.locator("[data-picture=thickness]")
    thickness.filter(has_text=re.compile(r"\d mm")).wait_for()
    try:
        tab.locator("#inch").click()
        thickness.filter(has_text=re.compile(r"\d in\b")).wait_for()
        state = planned.until(lambda s: s["units"]["shown"] == "inch" and s["good"] == s["digest"])
        assert state["digest"] != state["basis"] == before["basis"]
        assert planned.post("packet", {"digest": before["digest"]})[1]["refused"] == "stale"
        time.sleep(2 * CALM)
        state = planned.state()
        assert not state["work"]["running"]
        assert {(b["by"], b["status"], b["as_of"]) for b in state["bands"]} == {
            ("plan", "fresh", before["basis"])
        }
        playwright.expect(tab.locator("#work")).to_contain_text("The whole plan is worked out and proved.")
        make(tab)
        assert json.loads((folder / "answers.json").read_text())["digest"] == load_job(planned.job).digest
        drawings = [p.read_text(encoding="utf-8") for p in (folder / "drawings").glob("*.svg")]
        assert any(re.search(r"\d in\b", d) for d in drawings)
        assert not any(re.search(r"\d mm\b", d) for d in drawings)
    finally:
        planned.job.write_text(text, encoding="utf-8")
    tab.locator("#mm[aria-pressed=true]").wait_for()
    playwright.expect(tab.locator("#packet")).to_contain_text("is of before the last change.")
    thickness.filter(has_text=re.compile(r"\d mm")).wait_for()
    assert {b["by"] for b in planned.state()["bands"]} == {"plan"}


def test_requests_for_a_packet_are_guarded_as_the_others(planned: Page):
    shutil.rmtree(planned.job.parent / "packet", ignore_errors=True)
    digest = planned.state()["digest"]
    path = f"/{planned.word}/packet"
    own = {"host": planned.host, "content-type": "application/json", "origin": f"http://{planned.host}"}
    body = f'{{"digest": "{digest}"}}'.encode()
    assert planned.raw("POST", path, own | {"origin": "http://elsewhere.example"}, body)[0] == 403
    assert planned.raw("POST", path, own | {"host": "elsewhere.example"}, body)[0] == 421
    assert planned.raw("GET", path)[0] == 405
    assert planned.raw("GET", "/wrong-word/packet.pdf")[0] == 404
    assert planned.post("packet", {"digest": "of another text"})[1]["refused"] == "stale"
    assert not (planned.job.parent / "packet").exists()


def test_without_a_whole_plan_there_is_nothing_to_make_and_ending_leaves_nothing(tmp_path):
    for page in serve(copy_job(tmp_path)):
        state = page.until(lambda s: s["work"]["running"])
        answer = page.post("packet", {"digest": state["digest"]})[1]
        assert answer["refused"] == "bad"
        assert "whole plan" in answer["message"]
    assert not [p for p in page.job.parent.iterdir() if "packet" in p.name]


def test_a_page_ended_while_it_makes_a_packet_leaves_nothing_half_made(tmp_path):
    session = Session(copy_job(tmp_path))
    session.packets.begin("no plan, and not read before the end", session.text.digest)
    assert session.board.snapshot()["packet"]["running"]
    assert [p for p in session.text.path.parent.iterdir() if "packet" in p.name]
    session.close()
    assert not [p for p in session.text.path.parent.iterdir() if "packet" in p.name]


def test_a_packet_that_cannot_be_made_is_told_and_leaves_nothing(tmp_path, capfd):
    session = Session(copy_job(tmp_path))
    session.packets.begin("no plan at all", session.text.digest)
    with pytest.raises(BadInput, match="is being made"):
        session.packets.begin("another", session.text.digest)
    end = time.monotonic() + 60
    while session.board.snapshot()["packet"]["running"] and time.monotonic() < end:
        time.sleep(0.05)
    found = session.board.snapshot()["packet"]
    kind = "AttributeError: 'str' object has no attribute 'job'"
    assert found["message"] == f"A fault of ours, not of your job: {kind}."
    trace = capfd.readouterr().err
    assert trace.startswith("Traceback (most recent call last):\n")
    assert trace.endswith(f"\n{kind}\n")
    assert found["as_of"] is None
    assert session.packets.pdf is None
    assert not [p for p in session.text.path.parent.iterdir() if "packet" in p.name]
    session.close()
