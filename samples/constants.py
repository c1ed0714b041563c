"""Limits that belong to measuring a lot; those of the method are in `columns.physics.constants`."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

# Our rule: a reading may be undone this long after it was saved, by the server's clock.
UNDO_WITHIN = timedelta(seconds=10)
# Our rule: how far a typed time may lie ahead of the server's clock.
CLOCK_TOLERANCE = timedelta(minutes=2)
# ASTM D1505-18, 9.1 has films looked at again "after several hours"; three is our rule.
SECOND_LOOK_AFTER = timedelta(hours=3)

# Our rule: pieces of one cut within this distance are hard to tell apart.
NEAR_MM = Decimal("15")

# Largest volume expansion among the polymers of Callister, Fundamentals of Materials Science and
# Engineering, 3rd ed., Table B.6 (low-density polyethylene: three times 400e-6). It is used only
# for the uncertainty, and only where a grade's own expansion is not known.
LARGEST_EXPANSION_PER_K = Decimal("0.0012")

# Densities that a product of a gradient column can have: liquid pairs of JIS K 7112:1999, Annex 1,
# rounded outward (our rule), as for the floats.
LIGHTEST_PRODUCT_G_CM3 = Decimal("0.7")
DENSEST_PRODUCT_G_CM3 = Decimal("3.0")
# Our rule: a range of three specimens above this is a slip of the unit, not a limit.
WIDEST_SPREAD_G_CM3 = Decimal("0.05")
