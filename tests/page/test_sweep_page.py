"""The sweep on the page: asked for, watched, stopped, its candidates picked by pointer and keys, and used."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator

import pytest
from page_help import Page, copy_job, serve
from picture_help import shorten
from test_planner import family, gone

from sparwright.answers import BadInput
from sparwright.page.sweeping import MOST, UNFINISHED, Varied

pytestmark = pytest.mark.xdist_group("browser")


def rib(low: float, high: float, count: int, key: str = "rib") -> dict[str, object]:
    return {"field": "isogrid", "key": key, "low": low, "high": high, "count": count}


@pytest.fixture(scope="module")
def served(tmp_path_factory) -> Iterator[Page]:
    """The page of a short beam; without its whole plan, so that the sweep has the processors."""
    for page in serve(shorten(copy_job(tmp_path_factory.mktemp("sweep"))), "--plan-when-asked"):
        quiet(page)
        yield page


def quiet(page: Page) -> None:
    """Wait until the text as it is now is answered, and nothing is worked out."""
    page.until(lambda s: s["good"] == s["digest"] and all(b["status"] == "fresh" for b in s["bands"][:2]))


def result_of(page: Page) -> dict[str, object]:
    status, _, body = page.raw("GET", f"/{page.word}/sweep/result")
    assert status == 200
    return json.loads(body)


def test_values_lie_evenly_from_one_end_to_the_other():
    assert Varied("isogrid", "rib", 4, 8, 5).word == "isogrid.rib=4,5,6,7,8"
    assert Varied("isogrid", "skin", 0.7, 1.9, 4).word == "isogrid.skin=0.7,1.1,1.5,1.9"
    assert Varied("isogrid", "rows", 1, 3, 5).word == "isogrid.rows=1,2,3"  # whole numbers, each once


@pytest.mark.parametrize(
    ("varied", "words"),
    [
        (Varied("isogrid", "rib", 8, 4, 5), "isogrid.rib: from 8 to 4 does not rise"),
        (Varied("isogrid", "rib", 4, 4, 5), "does not rise"),
        (Varied("isogrid", "rib", 4, float("inf"), 5), "must be numbers"),
        (Varied("isogrid", "rib", 4, 8, 1), f"state 2 to {MOST}"),
        (Varied("isogrid", "faces", 4, 8, 2), "faces cannot be varied here"),
    ],
)
def test_a_bad_range_is_told_in_one_message(varied, words):
    with pytest.raises(BadInput, match=re.escape(words)):
        _ = varied.word


@pytest.mark.parametrize(
    ("vary", "words"),
    [
        ([rib(-8, 4, 3)], "-8 is out of range for rib"),
        ([rib(4, 8, 50), rib(0, 2, 5, "skin")], "these words make 250 candidates. Allowed: at most 120"),
        ([rib(4, 8, 3), rib(4, 8, 3)], "isogrid.rib is varied twice"),
        ([rib(4, 8, 3) | {"field": "isogrit"}], 'Did you mean "isogrid"?'),
    ],
)
def test_what_cannot_be_swept_is_refused_and_nothing_begins(served, vary, words):
    status, reply = served.post("sweep", {"digest": served.state()["digest"], "vary": vary})
    assert status == 200
    assert reply["refused"] == "bad"
    assert words in reply["message"]
    assert not served.state()["sweep"]["running"]


@pytest.mark.parametrize(
    "vary",
    [
        None,
        [],
        [rib(4, 8, 3)] * 3,
        [{"field": "isogrid"}],
        [rib(4, 8, 3) | {"count": 2.5}],
        [rib(4, 8, 3) | {"low": "4"}],
        [rib(4, 8, 3) | {"high": True}],
        [rib(4, 8, 3) | {"key": 3}],
    ],
)
def test_nonsense_is_no_sweep(served, vary):
    status, words = served.post("sweep", {"digest": served.state()["digest"], "vary": vary})
    assert status == 400
    assert isinstance(words, str)


def test_a_sweep_of_another_text_is_refused(served):
    _, reply = served.post("sweep", {"digest": "of another time", "vary": [rib(4, 8, 3)]})
    assert reply["refused"] == "stale"


def test_it_runs_beside_the_server_is_stopped_whole_and_can_begin_again(served):
    before = family(served.process.pid)
    vary = {"digest": served.state()["digest"], "vary": [rib(4, 8, 40)]}
    assert served.post("sweep", vary)[1]["sweep"]["running"]
    assert "under way" in served.post("sweep", vary)[1]["message"]
    served.until(lambda s: s["sweep"]["number"] > 0)
    found = result_of(served)
    assert 0 < len(found["candidates"]) < 40, "what is done is there before the end"
    assert found["recommended"] is None
    assert sum(c["front"] for c in found["candidates"]) > 0
    assert served.state()["sweep"]["running"]
    ours = family(served.process.pid) - before
    assert len(ours) > 1, "the sweep has workers by now"
    served.post("sweep/stop", {})
    state = served.until(lambda s: not s["sweep"]["running"])["sweep"]
    assert (state["stopped"], state["message"], state["holds"]) == (True, None, True)
    assert gone(ours)
    kept = result_of(served)
    assert len(found["candidates"]) <= len(kept["candidates"]) < 40
    assert kept["number"] == state["number"]
    assert len(kept["candidates"]) == state["done"]
    assert kept["reason"] == UNFINISHED


def test_a_result_answers_every_text_that_differs_in_what_was_varied_only(served):
    text = served.job.read_text()
    digest = served.state()["digest"]
    number = served.state()["sweep"]["number"]
    served.post("sweep", {"digest": digest, "vary": [rib(4, 6, 2), rib(1, 1.5, 2, "skin")]})
    state = served.until(lambda s: s["sweep"]["number"] > number and not s["sweep"]["running"], 120)
    assert state["sweep"]["as_of"] == digest
    assert state["sweep"]["holds"]
    found = result_of(served)
    assert [c["values"] for c in found["candidates"]] == [[4, 1], [4, 1.5], [6, 1], [6, 1.5]]
    assert all(c["figures"]["mass_out_kg"] > 0 for c in found["candidates"])
    deeper, shallower = found["candidates"][0]["figures"], found["candidates"][3]["figures"]
    assert deeper["mass_out_kg"] > shallower["mass_out_kg"]
    assert deeper["twist_kept"] < shallower["twist_kept"]
    served.job.write_text(text.replace("rib = 5", "rib = 6"))
    assert served.until(lambda s: s["good"] == s["digest"] != digest)["sweep"]["holds"]
    served.job.write_text(text.replace("cell = 44", "cell = 40"))
    served.until(lambda s: s["good"] == s["digest"] and not s["sweep"]["holds"])
    served.job.write_text(text)
    served.until(lambda s: s["good"] == s["digest"] == digest and s["sweep"]["holds"])
    quiet(served)


@pytest.fixture
def sheet(served, opened):
    """The page with its first band open."""
    tab = opened(served.address)
    tab.locator("#question-1 button").click()
    tab.locator("figure[data-picture=sweep] select").first.wait_for()
    return tab


def begin(tab, served, low: str, high: str) -> object:
    """Sweep two ribs and two skins, and wait for the picture; the picture's figure."""
    figure = tab.locator("figure[data-picture=sweep]")
    number = served.state()["sweep"]["number"]
    for name, value in (("from", low), ("to", high), ("number of values", "2")):
        figure.get_by_label(f"vary, {name}").fill(value)
    figure.get_by_label("and, number of values").fill("2")
    assert "4 candidates, at most 120" in figure.inner_text()
    figure.get_by_role("button", name="Sweep", exact=True).click()
    figure.get_by_role("button", name="Stop the sweep").wait_for()
    served.until(lambda s: s["sweep"]["number"] > number and not s["sweep"]["running"], 120)
    figure.locator("svg.front").wait_for()
    return figure


def test_candidates_are_picked_by_keys_and_pointer_and_used(served, sheet):
    text = served.job.read_text()
    figure = begin(sheet, served, "4", "6")
    plot, card = figure.get_by_role("listbox"), figure.locator(".candidate")
    assert plot.get_by_role("option").count() == 4
    assert figure.locator("path.best").get_attribute("d").count("L") >= 1
    plot.focus()
    sheet.keyboard.press("Home")
    first = card.locator("h3").inner_text()
    assert plot.locator("[aria-selected=true]").get_attribute("id") == plot.get_attribute(
        "aria-activedescendant"
    )
    sheet.keyboard.press("ArrowRight")
    assert card.locator("h3").inner_text() != first
    sheet.keyboard.press("End")
    assert "rib 4 mm, skin 0.7 mm" in card.locator("h3").inner_text()
    found = result_of(served)["candidates"][0]["figures"]
    assert f"{found['mass_out_kg']:.3f} kg" in card.inner_text()
    assert f"{100 * found['twist_kept']:.1f} %" in card.inner_text()
    target = plot.get_by_role("option", name=re.compile("rib 6 mm, skin 1.9 mm"))
    box = target.bounding_box()
    sheet.mouse.click(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    assert card.locator("h3").inner_text() == "rib 6 mm, skin 1.9 mm"
    use = card.get_by_role("button", name="Use these values")
    use.focus()
    sheet.keyboard.press("Enter")
    served.until(lambda s: s["undo"] == "field[1].rib, field[1].skin")
    changed = served.job.read_text()
    assert changed == text.replace("rib = 5", "rib = 6").replace("skin = 1.2", "skin = 1.9")
    assert "# stands on its narrow side in the plotter" in changed
    plot.get_by_role("option", name=re.compile("the job as it is now")).wait_for(state="attached")
    assert "The job has these values." in card.inner_text()
    assert not figure.get_by_text("as it was before a change").is_visible()
    sheet.locator("#undo").click()
    served.until(lambda s: s["redo"] is not None)
    assert served.job.read_text() == text
    quiet(served)


def test_candidates_come_in_one_by_one_and_a_picked_one_stays(served, sheet):
    figure = sheet.locator("figure[data-picture=sweep]")
    figure.get_by_label("and", exact=True).select_option("")
    for name, value in (("from", "4"), ("to", "8"), ("number of values", "24")):
        figure.get_by_label(f"vary, {name}").fill(value)
    number = served.state()["sweep"]["number"]
    figure.get_by_role("button", name="Sweep", exact=True).click()
    served.until(lambda s: s["sweep"]["number"] > number and s["sweep"]["running"], 60)
    plot, card = figure.get_by_role("listbox"), figure.locator(".candidate")
    plot.get_by_role("option").first.wait_for(state="attached")
    plot.focus()
    sheet.keyboard.press("Home")
    picked = card.locator("h3").inner_text()
    few = plot.get_by_role("option").count()
    assert "when all candidates are done" in card.inner_text()
    served.until(lambda s: not s["sweep"]["running"], 120)
    plot.get_by_role("option").nth(23).wait_for(state="attached")
    assert few < 24
    assert card.locator("h3").inner_text() == picked
    assert sheet.evaluate("document.activeElement.getAttribute('role')") == "listbox"
    assert plot.get_by_role("option", name=re.compile("recommended")).count() == 1
    quiet(served)


def test_an_older_answer_and_a_bad_range_are_said(served, sheet):
    text = served.job.read_text()
    figure = begin(sheet, served, "4", "6")
    served.job.write_text(text.replace("cell = 44", "cell = 40"))
    figure.get_by_text("These candidates are of the job as it was before a change").wait_for()
    served.job.write_text(text)
    figure.get_by_text("as it was before a change").wait_for(state="hidden")
    figure.get_by_label("vary, from").fill("9")
    figure.get_by_role("button", name="Sweep", exact=True).click()
    figure.get_by_role("alert").wait_for()
    assert figure.get_by_role("alert").inner_text().startswith("isogrid.rib: from 9 to 6 does not rise")
    figure.get_by_label("vary, from").fill("")
    figure.get_by_role("button", name="Sweep", exact=True).click()
    assert figure.get_by_role("alert").inner_text().startswith("State where to begin")
    quiet(served)


def test_nothing_of_it_is_cut_off_on_a_narrow_screen(served, opened):
    tab = opened(served.address, 390)
    tab.locator("#question-1 button").click()
    tab.locator("svg.front [role=option]").first.wait_for(state="attached")
    assert tab.evaluate("document.documentElement.scrollWidth <= innerWidth")
    out = tab.evaluate(
        """() => { const host = document.querySelector("svg.front").getBoundingClientRect();
        return [...document.querySelectorAll("svg.front text")].filter((t) => { const b = t.getBoundingClientRect();
        return b.left < host.left - 1 || b.right > host.right + 1 || b.top < host.top - 1 || b.bottom > host.bottom + 1; }).map((t) => t.textContent); }"""
    )
    assert out == []
