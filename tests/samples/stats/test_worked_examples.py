"""The worked example of each page in docs/algorithms, repeated by the code."""

import re
from decimal import Decimal
from pathlib import Path

import pytest

from columns.physics import basket_pass_minutes, wait_before_reading
from columns.physics.shapes import DiffusedShapes
from labsite import quantities
from samples.stats import (
    determination_uncertainty,
    grubbs_critical_value,
    grubbs_test,
    summarise_replicates,
)
from tests.columns.physics.sets import calibrated

DOCS = Path(__file__).resolve().parents[3] / "docs" / "algorithms"
THREE = [Decimal("0.91837"), Decimal("0.91845"), Decimal("0.91842")]


def bracketing():
    found = calibrated().density_at(Decimal("401.0")).bracketing
    return {
        "F": found.fraction,
        "slope, g/cm³ per mm": found.slope_g_cm3_per_mm,
        "density, g/cm³": found.density_exact,
        "u from certificates, g/cm³": found.from_certificates_g_cm3,
        "u from float heights, g/cm³": found.from_float_heights_g_cm3,
        "u from specimen height, g/cm³": found.from_specimen_height_g_cm3,
        "u, g/cm³": found.standard_uncertainty_g_cm3,
    }


def calibration_curve():
    column = calibrated()
    found = column.density_at(Decimal("401.0")).curve
    shape = float(DiffusedShapes([[0.01]]).at([[0.1]])[0][0, 0, 0, 1])
    return {
        "½ + P₁/2": 0.5 + shape / 2,
        "correlation": column.correlation,
        "sensitivity, g/cm³ per mm": column.sensitivity_g_cm3_per_mm,
        "density on the curve, g/cm³": found.density_g_cm3,
        "u on the curve, g/cm³": found.standard_uncertainty_g_cm3,
        "95 % interval from, g/cm³": found.interval_95[0],
        "95 % interval to, g/cm³": found.interval_95[1],
    }


def uncertainty():
    found = determination_uncertainty(
        THREE,
        shared_covariance=[[49e-10] * 3] * 3,
        reading_standard_uncertainty_g_cm3=0.00003,
        temperature_standard_uncertainty_g_cm3=0.00002,
    )
    parts = {f"{part.name}, g/cm³": part.standard_uncertainty_g_cm3 for part in found.parts}
    return {
        **parts,
        "u, g/cm³": found.standard_uncertainty_g_cm3,
        "effective degrees of freedom": found.effective_degrees_of_freedom,
        "k": found.coverage_factor,
        "U, g/cm³": found.expanded_uncertainty_g_cm3,
    }


def replicates():
    found = summarise_replicates(THREE)
    return {
        "mean, g/cm³": found.mean_exact,
        "range, g/cm³": found.range_exact,
        "s, g/cm³": found.sd,
        "G": grubbs_test(THREE).statistic,
        "critical G, n = 3": grubbs_critical_value(3),
    }


def rounding():
    exact = Decimal("0.91834999996")
    return {
        "stored, g/cm³": quantities.stored(exact),
        "reported, g/cm³": quantities.reported(exact),
        "one step, g/cm³": quantities.rounded(exact, 4),
        "U, g/cm³": quantities.reported_uncertainty(0.00016),
    }


def waiting():
    film = {
        f"film {thickness} mm, min": wait_before_reading("film", Decimal(thickness)).minutes
        for thickness in ("0.040", "0.100", "1.000")
    }
    return {
        "pellet, min": wait_before_reading("pellet").minutes,
        **film,
        "pass over 640 mm, min": basket_pass_minutes(640),
    }


def printed(page):
    """The rows of the table under the page's worked example."""
    text = (DOCS / f"{page}.md").read_text(encoding="utf-8").split("## Worked example")[1]
    rows = re.findall(r"^\| (.+?) \| (-?[\d.]+) \|$", text, flags=re.M)
    return dict(rows)


@pytest.mark.parametrize(
    "compute",
    [bracketing, calibration_curve, uncertainty, replicates, rounding, waiting],
    ids=lambda compute: compute.__name__,
)
def test_the_page_prints_what_the_code_computes(compute):
    page = printed(compute.__name__.replace("_", "-"))
    computed = compute()
    assert page.keys() == computed.keys()
    for label, text in page.items():
        places = len(text.partition(".")[2])
        assert quantities.written(quantities.rounded(computed[label], places)) == text, label


def test_every_page_has_a_worked_example_under_test():
    """Pages of this package; a page added by another part brings its own test."""
    ours = {"bracketing", "calibration-curve", "uncertainty", "replicates", "rounding", "waiting"}
    assert {page.stem for page in DOCS.glob("*.md")} >= ours
    assert all(printed(page) for page in ours)
