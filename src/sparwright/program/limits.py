"""Limits and tolerances of the reader, all in one place: those of NIST IR 6556 and those that keep any text harmless."""

from __future__ import annotations

INCH = 25.4  # mm
LONGEST_LINE = 256  # characters (section 3.3)
PARAMETERS = 5400  # #1 to #5399 (section 3.2.1)
INTEGER_TOLERANCE = 1e-4  # a value needed as an integer may be this far from one (section 3.3.2.1)
MOST_M_WORDS = 4  # on one line (section 3.4)
GREATEST_VALUE = 1e9  # greatest magnitude of a word; keeps every later sum finite
FARTHEST = 1e10  # mm; no position may lie farther out, so that lengths stay finite

TOLERANCE_MM = 0.002  # how much an arc's radii may differ under G21, mm (section 3.5.3)
TOLERANCE_INCH = 0.0002 * INCH  # the same under G20, mm
CLOSED = 1e-7  # mm; an arc whose ends are nearer than this is a full turn
PROBE_LEAST = 0.254  # mm; a probing move must be longer (section 3.5.9)
PECK_BACK_OFF = 0.010 * INCH  # mm; how far above the last peck the rapid down ends (section 3.5.16.5)

MOST_REPEATS = 10_000  # of one canned cycle line
MOST_PECKS = 10_000  # of one hole
MOST_CYCLE_MOTIONS = 2_000_000  # from canned cycles in one program
MOST_ERRORS = 1000  # kept of one program
