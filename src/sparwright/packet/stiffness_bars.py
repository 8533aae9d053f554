"""What is kept of each stiffness, with skins and with windows, as bars side by side."""

from __future__ import annotations

from collections.abc import Mapping

from sparwright.packet.canvas import Canvas

ROWS = (
    ("mass", "mass"),
    ("EA", "stretch EA"),
    ("EIy", "bending EIy, moves in z"),
    ("EIz", "bending EIz, moves in y"),
    ("GJ", "twist GJ"),
    ("GAy", "shear GAy"),
    ("GAz", "shear GAz"),
)
ROW, BAR, LABEL, FIGURES = 8.6, 3.0, 42.0, 15.0
TEXT = 3.2  # mm, 9 pt


def stiffness_bars(
    kept: Mapping[str, float],
    windows: Mapping[str, float] | None,
    spread: Mapping[str, float] | None = None,
    wishes: Mapping[str, float | None] | None = None,
    width: float = 178.0,
) -> str:
    """Bars of the shares kept, as SVG: grey with skins, open with windows, a tick where a share is wished for.

    kept, windows: ratios by the names mass, EA, EIy, EIz, GJ, GAy, GAz. spread: relative half-widths, drawn as
    whiskers. wishes: least share wished, by name.
    """
    spread, wishes = spread or {}, wishes or {}
    full = max([1.0, *kept.values(), *(windows or {}).values()])
    long = width - LABEL - FIGURES
    scale = long / (1.05 * full)
    height = ROW * len(ROWS) + 9.0
    sheet = Canvas(width, height)
    for tenth in range(0, int(full * 1.05 * 10) + 1, 2):
        x = LABEL + tenth / 10 * scale
        sheet.line((x, 6.0), (x, height - 2), "thin" if tenth == 10 else "faint")
        sheet.text((x, 2.2), f"{10 * tenth} %", TEXT, anchor="middle")
    for i, (key, name) in enumerate(ROWS):
        top = height - 2 - i * ROW
        sheet.text((LABEL - 2, top - 4.6), name, TEXT, anchor="end")
        _bar(sheet, top - 0.9, kept[key], scale, "#aaa", spread.get(key))
        if windows is not None:
            _bar(sheet, top - 0.9 - BAR - 0.4, windows[key], scale, "#fff", None)
        wish = wishes.get(key)
        if wish is not None:
            x = LABEL + wish * scale
            sheet.line((x, top - 0.2), (x, top - 1.6 - 2 * BAR), "heavy")
    return sheet.svg()


def _bar(sheet: Canvas, top: float, share: float, scale: float, fill: str, spread: float | None) -> None:
    end = LABEL + share * scale
    corners = [(LABEL, top), (end, top), (end, top - BAR), (LABEL, top - BAR)]
    sheet.polyline(corners, "thin", close=True, fill=fill)
    after = end
    if spread:
        half = share * spread * scale
        middle = top - BAR / 2
        after = end + half
        sheet.line((end - half, middle), (after, middle), "visible")
        for x in (end - half, after):
            sheet.line((x, middle - 0.7), (x, middle + 0.7), "visible")
    sheet.text((after + 1.2, top - BAR + 0.45), f"{100 * share:.1f} %", TEXT, halo=True)
