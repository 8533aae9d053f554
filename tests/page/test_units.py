"""The page in millimetres and in inches: as the job says, which the page can change, and what is typed is meant as shown."""

import re
import tomllib

import pytest
from page_help import copy_job, serve

from sparwright.answers import Finding, Verdict, answer
from sparwright.packet.figures import Display
from sparwright.page.bands import band_of
from sparwright.page.shown import in_units, sweep_in_units


def control(**changed):
    plain = {
        "id": "job:field.0.rib",
        "kind": "number",
        "unit": "mm",
        "value": 5.0,
        "low": 1.0,
        "high": 20.0,
        "step": 0.1,
    }
    return plain | changed


def state(*controls):
    found = Finding("tip", Verdict.GO, 0.254, "mm", 0.508, 0.254, why="Under 44.48 N.", where="x 254")
    band = band_of(answer(1, "25.4 mm.", [found]), "quick", "d", Display(inch=True))
    return {"bands": [band], "controls": list(controls)}


def test_a_band_in_inches():
    band = in_units(state(), "inch")["bands"][0]
    found = band["findings"][0]
    assert band["headline"] == "1.000 in."
    assert found["shown"] == {"value": "0.01 in", "limit": "0.02 in", "margin": "0.01 in"}
    assert found["why"] == "Under 10.000 lbf."
    assert found["where"] == "x 10.000 in"
    assert found["value"] == 0.254, "what is reckoned with stays metric"
    assert band["margin"]["words"] == "tip 0.01 in, at most 0.02 in wanted: 0.01 in to spare"
    assert in_units(state(), "mm")["bands"][0]["headline"] == "25.4 mm."
    assert all("inch" not in in_units(state(), u)["bands"][0] for u in ("mm", "inch"))


def test_a_sweep_s_sentences_in_inches():
    made = {
        "values": [5.0],
        "misses": ["tip 0.254 mm"],
        "note": "",
        "left_out": None,
        "figures": {"tip": 0.254},
    }
    result = {"candidates": [made], "notes": ["walls of 4 mm"], "reason": "10 mm less.", "number": 1}
    found = sweep_in_units(result, "inch")
    assert found["candidates"][0] == made | {"misses": ["tip 0.01000 in"]}
    assert (found["notes"], found["reason"]) == (["walls of 0.157 in"], "0.394 in less.")
    assert sweep_in_units(result, "mm") is result


def test_a_control_in_inches_keeps_to_its_range_and_says_what_it_writes():
    found = in_units(
        state(control(), control(unit="N", value=800.0, low=100.0, high=3000.0, step=50.0)), "inch"
    )
    rib, force = found["controls"]
    assert (rib["unit"], rib["write"], rib["step"]) == ("in", "in", 0.002)
    assert rib["value"] == pytest.approx(5 / 25.4, rel=1e-5)
    assert 1 / 25.4 <= rib["low"] < rib["low"] + rib["step"] < rib["high"] <= 20 / 25.4
    assert (force["unit"], force["step"], force["low"], force["high"]) == ("lbf", 10, 30, 670)
    untouched = control(unit="", value=3, step=1)
    assert in_units(state(untouched), "inch")["controls"] == [untouched]
    assert in_units(state(control()), "mm")["controls"] == [control()]
    chosen = in_units(state(control(value=None)), "inch")["controls"][0]
    assert chosen["value"] is None


@pytest.fixture(scope="module")
def own(tmp_path_factory):
    yield from serve(copy_job(tmp_path_factory.mktemp("units")), "--plan-when-asked")


@pytest.fixture
def in_inches(own):
    """The page of a job that says inches; the job is put back."""
    text = own.job.read_text(encoding="utf-8")
    own.job.write_text(text.replace("[job]\n", '[job]\nunits = "inch"\n', 1), encoding="utf-8")
    own.until(lambda s: s["units"]["shown"] == "inch" and s["good"] == s["digest"])
    answered(own)
    yield own
    own.job.write_text(text, encoding="utf-8")
    own.until(lambda s: s["units"]["shown"] == "mm" and s["good"] == s["digest"])


def answered(page):
    return page.until(lambda s: s["controls"] and all(b["verdict"] for b in s["bands"][:2]), 120)


@pytest.mark.parametrize("width", [1280, 390])
def test_the_switch_shows_inches_and_writes_the_units_only(own, opened, width):
    answered(own)
    text = own.job.read_text(encoding="utf-8")
    tab = opened(own.address, width)
    tab.get_by_role("button", name="1 Is it stiff").click()
    tab.get_by_role("button", name="2 Does it fit").click()
    switch = tab.get_by_role("group", name="Units of this page and of the packet")
    rib = tab.get_by_role("spinbutton", name="rib")
    margin = tab.locator("#inside-2 .told")
    tab.wait_for_selector("[data-picture=bed][data-ready]")
    tab.wait_for_selector("[data-picture=section][data-ready]")
    assert re.search(r"\d mm to spare", margin.inner_text())
    metric = float(rib.input_value())
    switch.get_by_role("button", name="inch").focus()
    tab.keyboard.press("Enter")
    tab.wait_for_selector("#inch[aria-pressed=true]")
    margin.filter(has_text=" in to spare").wait_for()
    tab.locator("[data-picture=section]").filter(has_text="in⁴").wait_for()
    assert float(rib.input_value()) == pytest.approx(metric / 25.4, rel=1e-4)
    parts = tab.locator(
        ".headline, .margin, .findings, .controls, [data-picture=bed], [data-picture=member], [data-picture=section]"
    )
    sweep = tab.locator("[data-picture=sweep] .sweep-row").first
    sweep.locator(".unit").filter(has_text="in").wait_for()
    assert float(sweep.get_by_label("vary, from").input_value()) == pytest.approx(3 / 25.4, rel=0.35)
    said = "\n".join(parts.all_inner_texts())
    assert not re.search(r"\d ?mm\b|\d N\b|\d kg\b", said), re.findall(r".{30}\d ?(?:mm|N|kg)\b", said)
    written = own.job.read_text(encoding="utf-8")
    assert tomllib.loads(written)["job"].pop("units") == "inch"
    assert [line for line in written.splitlines() if line != 'units = "inch"'] == text.splitlines()
    tab.reload()
    tab.wait_for_selector("#inch[aria-pressed=true]")
    tab.locator("#undo").click()
    tab.wait_for_selector("#mm[aria-pressed=true]")
    assert own.job.read_text(encoding="utf-8") == text
    assert tab.evaluate("document.documentElement.scrollWidth <= innerWidth")


def test_what_is_typed_in_inches_is_written_in_inches(in_inches, opened):
    own = in_inches
    first = own.state()["digest"]
    before = own.job.read_text(encoding="utf-8")
    tab = opened(own.address)
    tab.get_by_role("button", name="1 Is it stiff").click()
    rib = tab.get_by_role("spinbutton", name="rib")
    rib.fill("0.19")
    rib.press("Enter")
    own.until(lambda s: s["digest"] != first)
    after = own.job.read_text(encoding="utf-8")
    changed = [(a, b) for a, b in zip(before.splitlines(), after.splitlines(), strict=True) if a != b]
    assert len(changed) == 1
    assert changed[0][1].split("#")[0].split("=")[1].strip() == '"0.19 in"'
    assert changed[0][0].partition("#")[2] == changed[0][1].partition("#")[2], "its comment stays"
    state = own.until(lambda s: s["good"] == s["digest"] and s["controls"])
    said = next(c for c in state["controls"] if c["label"] == "rib")
    assert said["value"] == 0.19
    assert said["metric"] == pytest.approx(0.19 * 25.4)
    tab.locator("#undo").click()
    own.until(lambda s: s["digest"] == first)
    assert own.job.read_text(encoding="utf-8") == before


def test_a_plan_under_way_goes_on_in_the_other_units(own):
    answered(own)
    text = own.job.read_text(encoding="utf-8")
    own.post("plan", {})
    own.until(lambda s: s["work"]["running"] and s["work"]["number"])
    units = {"file": "job", "path": ["job", "units"], "value": "inch"}
    try:
        _, state = own.post("edit", {"digest": own.state()["digest"], "changes": [units]})
        assert state["work"]["running"]
        state = own.until(lambda s: s["units"]["shown"] == "inch")
        assert state["work"]["running"]
        assert {b["status"] for b in state["bands"][:2]} == {"fresh"}
    finally:
        own.job.write_text(text, encoding="utf-8")
        own.post("stop", {})
    own.until(lambda s: s["units"]["shown"] == "mm" and s["work"]["stopped"])


def test_a_pose_typed_in_inches_lies_where_it_says(in_inches, opened):
    own = in_inches
    first = own.state()["digest"]
    tab = opened(own.address)
    tab.get_by_role("button", name="2 Does it fit").click()
    tab.wait_for_selector("[data-picture=bed][data-ready]")
    at = tab.locator("[data-picture=bed] input[type=number]").first
    moved = round(float(at.input_value()) + 0.02, 3)
    at.fill(str(moved))
    at.press("Enter")
    own.until(lambda s: s["digest"] != first)
    placing = tomllib.loads(own.job.read_text(encoding="utf-8"))["placing"]
    assert placing["at"][0] == f"{moved} in"
    assert placing["at"][1].endswith(" in")
    own.until(lambda s: s["good"] == s["digest"] and s["message"] is None)
    told = tab.locator("#inside-2 .told")
    told.filter(has_text="Written, and worked out anew: the same").wait_for()
    tab.locator("#undo").click()
    own.until(lambda s: s["digest"] == first)
