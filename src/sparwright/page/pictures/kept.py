"""What is kept of each stiffness, with skins as they are and with windows instead, as shares of the plain stock."""

from __future__ import annotations

from collections.abc import Callable

from sparwright.job.models import Job
from sparwright.packet.figures import Display
from sparwright.packet.stiffness_bars import ROWS
from sparwright.page.pictures import PictureData
from sparwright.stiffness.fast import fast_model, intact_properties
from sparwright.stiffness.model import kept
from sparwright.stiffness.pattern import BayError
from sparwright.stiffness.wall import wall_properties
from sparwright.stock.model import Member
from sparwright.stock.solids import blank_mass_kg


def build(job: Job, member: Member) -> PictureData:
    """meta: rows, each with key, name, share kept, half-width of it (0 where none is stated), share with windows (None
    where they cannot be had) and share wished (None without); blank, kg of plain stock; note, why a figure is missing."""
    wishes, blank = job.file.wishes, blank_mass_kg(member)
    meta = {"rows": [], "blank": blank, "note": ""}
    if not member.bays:
        return PictureData(meta | {"note": "There is no field of pockets, so all the stiffness stays."})
    intact = intact_properties(member.section, member.material)
    try:
        found, note = fast_model(member)
    except BayError as problem:
        return PictureData(meta | {"note": _sentence(f"The stiffness kept could not be found: {problem}.")})
    share = kept(found, intact)
    try:
        windows = kept(wall_properties(member, windows=True), intact)
    except BayError as problem:
        windows, note = {}, f"With windows it could not be found: {problem}."
    wished = {"GJ": wishes.twist_kept, "EIy": wishes.bending_kept, "EIz": wishes.bending_kept}
    rows = [
        {
            "key": key,
            "name": name,
            "kept": share[key],
            "spread": share[key] * found.spread.get(key, 0.0),
            "windows": windows.get(key),
            "wish": wished.get(key),
        }
        for key, name in ROWS
        if key in share
    ]
    return PictureData(meta | {"rows": rows, "note": _sentence(note)})


def _sentence(text: str) -> Callable[[Display], str]:
    """A sentence as it is shown."""
    return lambda show: show.sentence(text)
