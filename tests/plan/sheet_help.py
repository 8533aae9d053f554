"""What a finished PDF is asked: where its words stand, how large they are, how dark on what ground, what its tables hold."""

import re
import subprocess
from html import unescape
from itertools import pairwise

import numpy as np

INCH = 72.0  # points


def _said(*command):
    return subprocess.run(command, capture_output=True, check=True).stdout


def words(pdf):
    """For each page: (width, height, [(x0, y0, x1, y1, word)]), in points from the upper left corner."""
    pages = re.split(r"<page ", _said("pdftotext", "-bbox", str(pdf), "-").decode())[1:]
    found = []
    for page in pages:
        wide, high = map(float, re.match(r'width="([\d.]+)" height="([\d.]+)"', page).groups())
        boxes = re.findall(
            r'xMin="([-\d.]+)" yMin="([-\d.]+)" xMax="([-\d.]+)" yMax="([-\d.]+)">(.*?)</word>', page
        )
        found.append((wide, high, [(*map(float, box), unescape(word)) for *box, word in boxes]))
    return found


def sizes(pdf):
    """For each page the sizes of its text, points, to a third of a point below (as whole pixels at three a point)."""
    text = _said("pdftohtml", "-xml", "-zoom", "3", "-i", "-stdout", str(pdf)).decode()
    size_of = {n: int(size) / 3 for n, size in re.findall(r'<fontspec id="(\d+)" size="(\d+)"', text)}
    return [
        {size_of[n] for n in re.findall(r'<text [^>]*font="(\d+)"', page)}
        for page in text.split("<page ")[1:]
    ]


def _luminance(grey):
    """Relative luminance of a grey of 0 to 255, as WCAG 2.2 defines it for sRGB."""
    c = np.asarray(grey) / 255.0
    return np.where(c <= 0.04045, c / 12.92, ((c + 0.055) / 1.055) ** 2.4)


def contrasts(pdf, dpi=150):
    """For each page (contrast, word) of every word in a grey rendering: the ground most of its box has, to its ink."""
    raw = _said("pdftoppm", "-gray", "-r", str(dpi), str(pdf))
    found = []
    for _, _, boxes in words(pdf):
        head = re.match(rb"P5\s+(\d+)\s+(\d+)\s+255\s", raw)
        wide, high = (int(v) for v in head.groups())
        page = np.frombuffer(raw, np.uint8, wide * high, head.end()).reshape(high, wide)
        raw = raw[head.end() + wide * high :]
        told = []
        for x0, y0, x1, y1, word in boxes:
            x0, y0, x1, y1 = (v * dpi / INCH for v in (x0, y0, x1, y1))
            box = page[int(y0) : int(y1) + 1, int(x0) : int(x1) + 1]
            ground = int(np.bincount(box.ravel(), minlength=256).argmax())
            ink = box.ravel()[np.abs(box.ravel().astype(int) - ground).argmax()]
            light, dark = sorted((float(_luminance(ground)), float(_luminance(ink))), reverse=True)
            told.append(((light + 0.05) / (dark + 0.05), word))
        found.append(told)
    return found


def plain(content):
    """The text of a typesetter's content."""
    if isinstance(content, list):
        return "".join(plain(c) for c in content)
    if content.get("func") == "space":
        return " "
    if "children" in content:
        return plain(content["children"])
    return content["text"] if "text" in content else plain(content.get("body") or content.get("child") or [])


def tables(found):
    """(heads, rows) of each table, as text, from the typesetter's own tables."""
    for table in found:
        head, *cells = table["children"]
        heads = [plain(c) for c in head["children"]]
        texts = [plain(c) for c in cells]
        yield heads, [texts[a:b] for a, b in pairwise(range(0, len(texts) + 1, len(heads)))]
