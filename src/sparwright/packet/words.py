"""Standing words of the packet: checks before the first cut and cautions."""

from __future__ import annotations

CHECKS = (
    "Bed clean, pads screwed down, no chips in the slots or under the member.",
    "Member pushed to the same slot wall along its length and against the stop; clamps at their torque, over plain metal.",
    "The programs on the machine are the ones listed: the job in each header is the digest at the foot of this sheet, "
    "and the SHA-256 of each file begins with the digest listed.",
    "X0 Y0 set at the left front corner of the reach and not touched since the pads were cut.",
    "Cutter tight, collet clean, stick-out and speed as listed.",
    "Z0 set on the face with this cutter, touched at both ends of the member; the two agree within 0.05 mm (0.002 in).",
    "First program run once at the safe height, spindle off, hand on the stop.",
    "Extraction on, eye and ear protection on, nobody else within reach.",
)

BETWEEN_SIDES = (
    "Spindle stopped, chips off; the member has not moved in its slots.",
    "Every feature of this side is there; holes, and skins where listed, measured and written down.",
    "A pocket that came out shallow is cut again now: open no clamp before that.",
    "Clamps off, member turned as the next sheet says, slots and the new lower face brushed clean, burrs off.",
    "Same edge of the member against the same slot wall, datum end at the stop; Z0 set anew.",
)

AFTER_LAST_SIDE = (
    "Spindle stopped, chips off; the member has not moved in its slots.",
    "Every feature of this side is there; holes, and skins where listed, measured and written down.",
    "A pocket that came out shallow is cut again now: open no clamp before that.",
    "Threads tapped while the member is still held.",
)

INCH_NOTE = (
    "Lengths here are in inches, forces and masses in pounds; the programs, holes.csv and cutters.csv stay in millimetres, and names stay as the job gives them. "
    "Set the machine to the units each program states in its first line."
)

SIDE_CAUTIONS = (
    "Eye and ear protection; no gloves, loose sleeves or long hair near a turning spindle. Never reach under it, never leave it running alone. "
    "Aluminium chips are sharp and hot; clear them with a brush and a vacuum, with the spindle stopped. "
    "A part that moves in its slot ends the job: stop, do not hold it by hand."
)

CAUTIONS = (
    "Spinning cutters, thrown stock and flying chips can blind or maim. Wear eye protection to EN 166 or ANSI Z87.1 and ear protection; "
    "routers often exceed 85 dB(A), where the NIOSH limit for a whole day lies.",
    "Dust of MDF and other boards harms the lungs: use extraction and a mask when the pads are cut.",
    "The simulation judges the programs, this member, these pads and clamps as described. It does not know a loose collet, a dull cutter, lost steps or "
    "stock that differs from the job file: the checks above are part of the proof.",
    "Tap threads by hand with a guide while the member is still held, with a drop of cutting oil.",
    "Figures of stiffness and strength are computed for the nominal section; a member that carries people or whose failure could hurt someone "
    "needs the judgement of a licensed engineer. Local codes for machines, electricity, noise and dust come first.",
)
