"""The wheel as it is handed out: how large it is, and the page served from it."""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest
from page_help import OUTSIDE, copy_job, serve

pytestmark = pytest.mark.xdist_group("wheel")

ROOT = Path(__file__).parents[2]
MOST_BYTES = 1_000_000
SOURCES = ("src", "docs", "hatch_build.py", "pyproject.toml", "README.md")
"""All that a wheel is made from."""


@pytest.fixture(scope="module")
def wheel(tmp_path_factory):
    """The wheel, built from a copy of the source as pip builds it: this needs the network, as installing does."""
    source, out = tmp_path_factory.mktemp("source"), tmp_path_factory.mktemp("wheel")
    for name in SOURCES:
        place = ROOT / name
        if place.is_dir():
            shutil.copytree(place, source / name, ignore=shutil.ignore_patterns("__pycache__"))
        else:
            shutil.copy(place, source)
    pip = [sys.executable, "-m", "pip", "wheel", "--no-deps", "--quiet", "--disable-pip-version-check"]
    done = subprocess.run(
        [*pip, "--wheel-dir", str(out), str(source)], capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stdout + done.stderr
    (found,) = out.glob("*.whl")
    return found


@pytest.fixture(scope="module")
def package(wheel, tmp_path_factory):
    """The folder it is unpacked in."""
    folder = tmp_path_factory.mktemp("package")
    with zipfile.ZipFile(wheel) as files:
        files.extractall(folder)
    return folder


@pytest.fixture(scope="module")
def page(package, tmp_path_factory):
    """The page of a copy of the demo job, served from it."""
    job = copy_job(tmp_path_factory.mktemp("page"))
    yield from serve(job, "--plan-when-asked", package=package)


def get(page, path):
    status, headers, body = page.raw("GET", f"/{page.word}/{path}")
    return status, headers["content-type"], body.decode("utf-8", "replace")


def test_the_wheel_is_small_and_whole(wheel):
    assert wheel.stat().st_size < MOST_BYTES
    with zipfile.ZipFile(wheel) as files:
        assert files.testzip() is None
        names = set(files.namelist())
    sources = {f.relative_to(ROOT / "src").as_posix() for f in (ROOT / "src").rglob("*.py")}
    assert names >= sources
    assert "sparwright/page/packed.xz" in names
    kinds = (".py", ".typed", ".toml", ".typ", ".xz")
    assert [n for n in names if not n.endswith(kinds) and ".dist-info/" not in n] == []


def test_pip_finds_every_file_of_the_wheel_as_it_is_listed(wheel, tmp_path):
    pip = [sys.executable, "-m", "pip", "install", "--no-deps", "--no-compile", "--quiet", "--no-index"]
    subprocess.run([*pip, "--disable-pip-version-check", "--target", str(tmp_path), str(wheel)], check=True)
    assert (tmp_path / "sparwright" / "page" / "packed.xz").is_file()


def test_every_file_of_the_page_is_served_from_the_wheel(page, package):
    assert not (package / "sparwright" / "page" / "static").exists()
    static = ROOT / "src" / "sparwright" / "page" / "static"
    own = {f.relative_to(static).as_posix() for f in static.rglob("*.*") if f.is_file()}
    assert len(own) > 25
    kinds = {".js": "text/javascript", ".css": "text/css", ".html": "text/html"}
    for name in own:
        status, kind, text = get(page, f"static/{name}")
        assert (status, kind) == (200, f"{kinds[Path(name).suffix]}; charset=utf-8"), name
        assert text.strip(), name
    index = (static / "index.html").read_text(encoding="utf-8")
    assert get(page, "") == (200, "text/html; charset=utf-8", index)
    status, kind, _ = get(page, "font/SourceSansPro-Regular.otf")
    assert (status, kind) == (200, "font/otf")


@pytest.mark.parametrize("name", ["question-1", "own-machine", "cautions", "job-file"])
def test_help_pages_are_served_from_the_wheel(page, name):
    status, kind, text = get(page, f"help/{name}")
    assert (status, kind) == (200, "text/html; charset=utf-8")
    assert len(re.sub("<[^>]*>", "", text)) > 500


@pytest.mark.parametrize("path", OUTSIDE)
def test_no_path_leads_outside_of_the_wheel_s_files(page, path):
    status, _, text = get(page, path)
    assert status == 404, text[:80]
    assert "import" not in text
    assert "root:" not in text


def test_the_guard_stands_before_the_wheel_s_files(page):
    for part in ("", "static/page.js", "static/pictures/member.js"):
        status, headers, _ = page.raw("GET", f"/{page.word}/{part}")
        assert status == 200
        assert "script-src 'self';" in headers["content-security-policy"]
        assert headers["x-content-type-options"] == "nosniff"
        assert page.raw("HEAD", f"/{page.word}/{part}")[2] == b""
        assert page.raw("GET", f"/{part}")[0] == 404
        assert page.raw("GET", f"/{page.word}/{part}", {"host": "evil.example"})[0] == 421
        assert page.raw("POST", f"/{page.word}/{part}")[0] == 403


def test_the_page_of_the_wheel_works_in_a_browser(opened, page):
    expect, tab = pytest.importorskip("playwright.sync_api").expect, opened(page.address)
    expect(tab.locator(".band").first).to_have_attribute("data-status", "fresh", timeout=60_000)
    tab.locator("#question-1 button").click()
    expect(tab.locator("#inside-1 canvas").first).to_be_visible(timeout=60_000)
    tab.get_by_role("button", name="how twist kept is found", exact=True).click()
    expect(tab.get_by_role("dialog").locator(".meant")).to_contain_text("Kept is the stiffness")
    fonts = "document.fonts.ready.then(() => document.fonts.check('16px \\'Source Sans Pro\\''))"
    assert tab.evaluate(fonts)
