"""What a file of the member leaves out, said in the file itself."""

from __future__ import annotations

from sparwright.stock.model import Member


def edge_note(member: Member, face: str | None = None) -> str:
    """Which edge breaks are left out, by kind of feature, in plain ASCII; empty where there are none.

    face: only those of features on that face.
    """
    parts = []
    for word, features in (
        ("pockets", member.pockets),
        ("holes", member.holes),
        ("notches", member.notches),
    ):
        sizes = {f.edge_break for f in features if f.edge_break > 0 and face in (None, f.face)}
        if sizes:
            parts.append(f"{word} {' and '.join(f'{size:g}' for size in sorted(sizes))} mm")
    if not parts:
        return ""
    return (
        f"Edge breaks are left out: {', '.join(parts)}. Edges are shown as they are before they are broken."
    )
