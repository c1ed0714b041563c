"""Limits and facts of the method, each with the place it was read in."""

from decimal import Decimal

# ASTM D1505-18, 5.2 and 7.2: temperature of the bath and its tolerance.
BATH_TEMPERATURE_C = Decimal("23.0")
BATH_TOLERANCE_C = Decimal("0.1")

# ASTM D1505-18, 10.1.1: correlation coefficient of float height against float density.
# It is |r| of the straight line, not r².
MINIMUM_CORRELATION = Decimal("0.995")

# ASTM D1505-18, Note 3: one millimetre may stand for at most this much density if the
# accuracy of 4.2 is wanted. Coarser columns are allowed for less: a finding, no refusal.
COARSEST_SENSITIVITY_G_CM3_PER_MM = Decimal("0.0001")

# Common practice, no source: at least five floats, spread evenly. The lab may set another number.
MINIMUM_FLOATS = 5
# Common practice, no source: floats that a column usually carries.
USUAL_FLOATS = 9
# A straight line between two floats is the least that gives a density (ASTM D1505-18, 10.1.2).
FEWEST_FLOATS = 2
# Our rule: four shape terms and the mixing are fitted; below five floats only priors would speak.
FEWEST_FLOATS_FOR_CURVE = 5

# Liquid pairs of JIS K 7112:1999, Annex 1 span 0.79 to 2.89 g/cm³; rounded outward (our rule).
LIGHTEST_FLOAT_G_CM3 = Decimal("0.7")
DENSEST_FLOAT_G_CM3 = Decimal("3.0")

# Our rules on what cannot be read off a scale: no column holds more floats, no datum lies farther
# away, and floats nearer than this in height or certified density count as equal.
MOST_FLOATS = 60
FARTHEST_HEIGHT_MM = Decimal("1e9")
LEAST_HEIGHT_APART_MM = Decimal("0.000001")
LEAST_DENSITY_APART_G_CM3 = Decimal("0.0000001")
# Our rule: standard uncertainties above these are slips of the keyboard.
LARGEST_DENSITY_U_G_CM3 = 1.0
LARGEST_HEIGHT_U_MM = 1000.0

# Our rule: a float whose misfit to the curve of the other floats exceeds this many of its own
# standard uncertainties is named. Normal errors reach it once in two thousand floats.
MISFIT_LIMIT = 3.5
# JCGM 100:2008, 6.3.3: factor for about 95 % when two methods are compared.
COMPARISON_FACTOR = 2.0

# ASTM D1505-18, 9.1: number of specimens of a determination.
SPECIMENS_PER_DETERMINATION = 3
# ASTM D1505-18, 9.1: shortest waits. Films are looked at again after several hours.
PELLET_WAIT_MINUTES = 10
THIN_FILM_WAIT_MINUTES = 90
# ASTM D1505-18, 9.1: films of 1 to 2 mil.
THIN_FILM_THINNEST_MM = Decimal("0.025")
THIN_FILM_THICKEST_MM = Decimal("0.051")

# ASTM D1505-18, 9.3: the basket moves about 300 mm in 30 minutes.
BASKET_RATE_MM_PER_MIN = Decimal("10")
# Our rule: a pass faster than this stirs the gradient, and the fill goes on hold.
BASKET_RATE_LIMIT_MM_PER_MIN = Decimal("20")
# Our rule: hours after a pass before a reading counts; the lab may set another number.
HOURS_AFTER_BASKET_PASS = 12

# Common practice, no source: densities of the lightest usual alcohol and of water near 23 °C.
# A polyolefin piece sinks in the first and floats on the second.
ALCOHOL_G_CM3 = Decimal("0.79")
