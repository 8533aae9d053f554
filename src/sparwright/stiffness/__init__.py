"""Stiffness of plain sections and of reworked members, as the constants of a beam."""
