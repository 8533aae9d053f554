"""Help in place: every figure has its paragraph, pages are safe HTML, and the page opens them by keys."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest

import sparwright
from sparwright.page import help as helping
from sparwright.proof.kinds import KINDS

ROOT = Path(sparwright.__file__).parent
ID = re.compile(r'<\w+ id="([^"]+)"')
ROOMS = ("stiffness", "loop", "placing", "cutting", "plan", "measure", "page")


def names_on(page: str) -> list[str]:
    return ID.findall(helping.rendered(page))


def is_there(place: str) -> bool:
    page, _, anchor = place.partition("#")
    return anchor in names_on(page)


def names_in_source() -> list[str]:
    """The name of every finding that the rooms make, what is filled in replaced by "x"."""
    found = set()
    for file in (f for room in ROOMS for f in (ROOT / room).rglob("*.py")):
        for node in ast.walk(ast.parse(file.read_text())):
            if not isinstance(node, ast.Call) or not node.args:
                continue
            maker, first = ast.unparse(node.func), node.args[0]
            if not maker.endswith(("Finding", "_finding", "at_least", "at_most", "Refusal")):
                continue
            if isinstance(first, ast.Constant) and isinstance(first.value, str):
                found.add(first.value)
            elif isinstance(first, ast.JoinedStr):
                found.add("".join(p.value if isinstance(p, ast.Constant) else "x" for p in first.values))
    return sorted(found)


def test_every_paragraph_that_is_named_is_there():
    missing = [p.place for p in helping.named() if not is_there(p.place)]
    assert missing == []


def test_every_finding_in_the_source_has_a_paragraph():
    names = names_in_source()
    assert len(names) > 60
    without = [
        name
        for name in names
        if not any((p := helping.of_finding(q, name)) and is_there(p.place) for q in range(1, 7))
    ]
    assert without == []


@pytest.mark.parametrize("name", [k.name for k in KINDS])
def test_every_check_of_a_proof_has_its_row(name):
    assert is_there(helping.of_finding(5, name).place)


def test_a_plan_s_findings_and_all_controls_have_paragraphs(planned):
    state = planned.state()
    findings = [(b["question"], f["name"], f["derived"]) for b in state["bands"] for f in b["findings"]]
    assert len(findings) > 100
    assert [f for f in findings if not f[2] or not is_there(f[2])] == []
    assert len(state["controls"]) > 15
    assert [c["id"] for c in state["controls"] if not c["derived"] or not is_there(c["derived"])] == []


def test_quick_answers_have_paragraphs(page):
    state = page.until(lambda s: all(s["bands"][q]["verdict"] for q in (0, 1)))
    quick = [f for band in state["bands"][:2] for f in band["findings"]]
    assert [f["name"] for f in quick if not f["derived"] or not is_there(f["derived"])] == []


@pytest.mark.parametrize("page", sorted(helping.texts()))
def test_links_on_a_page_lead_somewhere_and_names_are_told_apart(page):
    text, names = helping.rendered(page), names_on(page)
    assert len(names) == len(set(names))
    assert "style=" not in text
    assert "<script" not in text
    for target in re.findall(r'<a href="([^"]*)"', text):
        name, _, anchor = target.partition("#")
        if "://" not in target:
            assert name in {"", *helping.texts()}, target
            assert not anchor or is_there(f"{name or page}#{anchor}"), target


@pytest.fixture
def own_page(monkeypatch):
    """Puts a text in the place of the pages."""

    def put(text: str) -> str:
        monkeypatch.setattr(helping, "texts", lambda: {"own": text})
        helping.rendered.cache_clear()
        return helping.rendered("own")

    yield put
    helping.rendered.cache_clear()


def test_markup_in_a_page_is_text(own_page):
    text = own_page(
        "# <b onclick=x>A</b>\n\n<script>steal()</script>\n\nsee <img src=x onerror=steal()> [here](javascript:steal())\n"
        "\n<!-- not shown -->\n\n[out](https://example.org/) [off](../README.md)\n\n![a bed](bed.png)\n"
    )
    assert re.findall(r"<(script|b|img)\b", text) == []
    assert 'href="javascript' not in text
    assert "not shown" not in text
    assert 'target="_blank" rel="noopener noreferrer">out</a>' in text
    assert "off" in text
    assert "README" not in text
    assert "Picture: a bed" in text


def test_packed_pages_are_read_and_the_job_file_comes_from_the_models(monkeypatch):
    monkeypatch.setattr(helping, "packed", lambda: {"help/own": "# Packed", "static/page.js": "go()"})
    helping.texts.cache_clear()
    try:
        assert helping.texts().keys() == {"own", "job-file"}
        assert helping.texts()["own"] == "# Packed"
        assert "`[[field]]`" in helping.texts()["job-file"]
    finally:
        helping.texts.cache_clear()


def test_pages_are_served_under_the_word_only(page):
    status, headers, body = page.raw("GET", f"/{page.word}/help/stiffness")
    assert status == 200
    assert headers["content-type"].startswith("text/html")
    assert "script-src 'self';" in headers["content-security-policy"]
    assert b'id="the-bay"' in body
    assert page.raw("GET", "/help/stiffness")[0] == 404
    assert page.raw("GET", f"/{page.word}/help/stiffness", {"host": "evil.example"})[0] == 421
