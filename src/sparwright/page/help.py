"""Help in place: the pages of the documentation as safe HTML, and the paragraph that derives a figure."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fnmatch import fnmatchcase
from functools import lru_cache
from html import escape
from pathlib import Path
from typing import Any

from markdown_it import MarkdownIt
from markdown_it.token import Token

from sparwright.job.positions import Key
from sparwright.page.packed import packed

HERE = Path(__file__).parent
BESIDE = HERE.parents[2] / "docs"
_ONLY_A_COMMENT = re.compile(r"\s*<!--.*-->\s*", re.DOTALL)


@dataclass(frozen=True)
class Paragraph:
    """A paragraph of the documentation.

    page: its file's name without the ending. heading: as a link writes it. words: of the paragraph, or the first cell of
    a table's row.
    """

    page: str
    heading: str
    words: str

    @property
    def anchor(self) -> str:
        """Its name on its page."""
        return f"{self.heading}.{slug(self.words)}"

    @property
    def place(self) -> str:
        """Page and anchor as the browser asks for them."""
        return f"{self.page}#{self.anchor}"


def slug(words: str) -> str:
    """Words as the anchor of a heading is written: lower case, signs dropped, blanks as hyphens."""
    return re.sub(r"[^\w\- ]", "", words.lower()).replace(" ", "-")


@lru_cache(maxsize=1)
def _table() -> dict[str, Any]:
    return tomllib.loads((HERE / "paragraphs.toml").read_text(encoding="utf-8"))


@lru_cache(maxsize=4096)
def of_finding(question: int, name: str) -> Paragraph | None:
    """The paragraph that derives a finding of a question; None where none is named."""
    for pattern, place in _table()[str(question)].items():
        if fnmatchcase(name, pattern):
            return Paragraph(*place)
    return _row(str(question), name.split(", ")[0])


@lru_cache(maxsize=4096)
def of_control(path: Key) -> Paragraph | None:
    """The paragraph on a value of a file, by its path there."""
    return _row(str(path[0]), str(path[-1]))


def _row(table: str, cell: str) -> Paragraph | None:
    found = _table()["rows"].get(table)
    return None if found is None else Paragraph(found[0], found[1], cell)


def named() -> Iterator[Paragraph]:
    """Every paragraph that a finding is given by its words."""
    for key, table in _table().items():
        if key != "rows":
            yield from (Paragraph(*place) for place in table.values())


@lru_cache(maxsize=1)
def texts() -> dict[str, str]:
    """The pages by name: packed with the package, or beside its source where it is used in place.

    The reference of the job file is made from the models.
    """
    from sparwright.job.schema import page

    found = {place[5:]: text for place, text in packed().items() if place.startswith("help/")}
    if not found:
        found = {file.stem: file.read_text(encoding="utf-8") for file in BESIDE.glob("*.md")}
    return found | {"job-file": page()}


@lru_cache(maxsize=32)
def rendered(page: str) -> str:
    """A page as an HTML document of its own. Raises KeyError for a page there is not.

    Headings have the anchors that links write, rows of tables that of their heading and first cell, and every paragraph
    that derives a figure its own. Markup in the text is shown as text.
    """
    text = texts()[page]
    reader = MarkdownIt("commonmark", {"html": True}).enable("table")
    for kind in ("html_block", "html_inline"):
        reader.add_render_rule(kind, _as_text)
    reader.add_render_rule("image", _caption)
    reader.add_render_rule("table_open", _wide)
    reader.add_render_rule("table_close", _wide_end)
    tokens = reader.parse(text)
    title = _anchored(tokens, [p for p in named() if p.page == page])
    for i, token in enumerate(tokens):
        token.attrs.pop("style", None)  # the page allows no styles in markup
        if token.type == "th_open" and not tokens[i + 1].content:
            token.tag = tokens[i + 2].tag = "td"  # a corner that heads nothing
        if token.children:
            token.children = _linked(token.children)
    body = reader.renderer.render(tokens, reader.options, {})
    return (
        f'<!doctype html>\n<html lang="en"><head><meta charset="utf-8"><title>{escape(title)}</title>'
        '<link rel="stylesheet" href="../static/page.css"><link rel="stylesheet" href="../static/help.css"></head>'
        f'<body><main><article class="help">\n{body}</article></main></body></html>\n'
    )


def _anchored(tokens: Sequence[Token], wanted: Sequence[Paragraph]) -> str:
    """Give headings, rows and the paragraphs wanted their names; the page's title is given back."""
    title, heading = "", ""
    used: set[str] = set()
    around: list[Token] = []
    for token in tokens:
        if token.nesting:
            around.append(token) if token.nesting > 0 else around.pop()
        if token.type != "inline":
            continue
        block, text = around[-1], plain(token)
        if block.type == "heading_open":
            title = title or text
            heading = slug(text)
            _name(block, heading, used)
        elif block.type == "td_open":
            _name(around[-2], f"{heading}.{slug(text)}", used)
        elif block.type == "paragraph_open":
            meant = around[-2] if block.hidden else block
            for p in wanted:
                if p.heading == heading and p.words in text:
                    _name(meant, p.anchor, used)
    return title


def _name(token: Token, name: str, used: set[str]) -> None:
    """Name an element once, by a name of its own."""
    if "id" not in token.attrs and name not in used:
        token.attrSet("id", name)
        used.add(name)


def plain(token: Token) -> str:
    """The words of a line of text, without its markup."""
    breaks = ("softbreak", "hardbreak")
    return "".join(" " if c.type in breaks else c.content for c in token.children or ())


def _linked(children: Sequence[Token]) -> list[Token]:
    """Links to other pages as they are asked for here, those to the world in a tab of their own, others as plain words."""
    out: list[Token] = []
    dropped = False
    for token in children:
        if token.type == "link_open":
            target = str(token.attrs["href"])
            name, _, anchor = target.partition("#")
            if "://" in target:
                token.attrSet("target", "_blank")
                token.attrSet("rel", "noopener noreferrer")
            elif not name or (name.endswith(".md") and name[:-3] in texts()):
                token.attrSet("href", name.removesuffix(".md") + (f"#{anchor}" if anchor else ""))
            else:
                dropped = True
                continue
        elif token.type == "link_close" and dropped:
            dropped = False
            continue
        out.append(token)
    return out


def _as_text(renderer: Any, tokens: Sequence[Token], at: int, options: Any, env: Any) -> str:
    """Markup as text; comments, which only the page's makers need, not at all."""
    content = tokens[at].content
    return "" if _ONLY_A_COMMENT.fullmatch(content) else escape(content)


def _caption(renderer: Any, tokens: Sequence[Token], at: int, options: Any, env: Any) -> str:
    """What a picture shows; pictures do not come along."""
    return f"<em>Picture: {escape(tokens[at].content)}</em>"


def _wide(renderer: Any, tokens: Sequence[Token], at: int, options: Any, env: Any) -> str:
    """A table that can be moved sideways, by keys too."""
    return '<div class="wide" role="group" aria-label="table" tabindex="0"><table>\n'


def _wide_end(renderer: Any, tokens: Sequence[Token], at: int, options: Any, env: Any) -> str:
    return "</table></div>\n"
