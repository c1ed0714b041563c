"""What a person should know about a calibration or a density, with stable codes."""

import math
from dataclasses import dataclass

import numpy as np

from columns.physics import constants


@dataclass(frozen=True)
class Finding:
    """Something a person should know about a calibration or a density.

    `value` and `limit` hold the figures of the message, so that it can be said in any language.
    """

    code: str
    message: str
    float: str | None = None
    value: object = None
    limit: object = None


def number_findings(count, minimum_floats):
    """What the number of floats does not allow."""
    if count < constants.FEWEST_FLOATS_FOR_CURVE:
        yield Finding(
            "too_few_floats_for_curve",
            f"{count} floats give densities between neighbours but no curve; a curve needs "
            f"{constants.FEWEST_FLOATS_FOR_CURVE}.",
            value=count,
            limit=constants.FEWEST_FLOATS_FOR_CURVE,
        )
    if count < minimum_floats:
        yield Finding(
            "below_minimum_floats",
            f"{count} floats were read; no density is released from fewer than {minimum_floats}.",
            value=count,
            limit=minimum_floats,
        )


def line_findings(correlation, passes, sensitivity):
    """What the standard's straight line through the floats shows."""
    if not passes:
        yield Finding(
            "correlation_low",
            f"The correlation of height and density is {abs(correlation):.5f}; ASTM D1505-18, "
            f"10.1.1 asks for at least {constants.MINIMUM_CORRELATION}.",
            value=abs(correlation),
            limit=constants.MINIMUM_CORRELATION,
        )
    if sensitivity > constants.COARSEST_SENSITIVITY_G_CM3_PER_MM:
        yield Finding(
            "sensitivity_coarse",
            f"One millimetre stands for {float(sensitivity):.6f} g/cm³; the accuracy of ASTM "
            "D1505-18, 4.2 needs at most "
            f"{constants.COARSEST_SENSITIVITY_G_CM3_PER_MM} g/cm³ (Note 3).",
            value=float(sensitivity),
            limit=constants.COARSEST_SENSITIVITY_G_CM3_PER_MM,
        )


def misfit_findings(ladder, curve, refit):
    """Name the worst float, leave it out, and look again.

    One bad float pulls the curve away from its neighbours, which then seem bad as well.
    """
    while curve:
        misfits = curve.studentised
        worst = int(np.argmax(np.abs(misfits)))
        if abs(misfits[worst]) <= constants.MISFIT_LIMIT:
            return
        yield _misfit_finding(ladder[worst], float(misfits[worst]))
        ladder = ladder[:worst] + ladder[worst + 1 :]
        curve = refit(ladder)


def _misfit_finding(each, misfit):
    side = "higher" if misfit > 0 else "lower"
    return Finding(
        "float_misfit",
        f"{each.id} stands {side} than the other floats put its density, by {abs(misfit):.1f} "
        "standard uncertainties. Read it again.",
        float=each.id,
        value=misfit,
        limit=constants.MISFIT_LIMIT,
    )


def disagreement_findings(bracketed, curve):
    """Bracketing against the curve; the specimen's own height is common to both and left out."""
    if curve is None:
        return ()
    apart = bracketed.density_g_cm3 - curve.density_g_cm3
    limit = constants.COMPARISON_FACTOR * math.hypot(
        bracketed.shared_standard_uncertainty_g_cm3, curve.from_curve_g_cm3
    )
    if abs(apart) <= limit:
        return ()
    return (
        Finding(
            "curve_disagrees",
            f"Bracketing and curve differ by {abs(apart):.5f} g/cm³, more than their combined "
            f"uncertainty explains ({limit:.5f} g/cm³).",
            value=apart,
            limit=limit,
        ),
    )
