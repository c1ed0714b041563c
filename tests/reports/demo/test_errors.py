"""The simulated errors have the sizes that were meant: scored against the truth kept apart."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import numpy as np
import pytest

from reports.demo import events as ev
from reports.demo.readers import mistyped, parallax_mm, read_mm
from reports.demo.scenario import quillmere
from reports.demo.simulator import Month
from tests.reports.demo.replay import SEEDED, month_ending


def slipped(month: Month) -> set[str]:
    return {planted.key for planted in month.truth.planted}


def set_errors(month: Month, by: str) -> np.ndarray:
    """Typed height less true place, above the bottom, of all floats that a person read."""
    lab = quillmere()
    columns = {e.fill: e.column for e in month.events if isinstance(e, ev.FillPlanned)}
    errors = []
    for event in month.events:
        if not isinstance(event, ev.FloatSetRead) or event.by != by:
            continue
        if event.float_set in slipped(month):
            continue
        column = lab.column(columns[event.fill])
        for label, height in event.heights:
            rest = month.truth.float_rest_mm[event.float_set][label]
            errors.append((rest, column.above_bottom_mm(float(height)) - rest))
    return np.array(errors)


def test_a_steady_reader_scatters_by_noise_and_rounding(month: Month) -> None:
    errors = set_errors(month, "imre")[:, 1]
    expected = np.sqrt(0.30**2 + 0.5**2 / 12)  # noise of the eye, rounding to 0.5 mm
    assert len(errors) > 150
    assert errors.std() == pytest.approx(expected, rel=0.15)
    assert abs(errors.mean()) < 4 * expected / np.sqrt(len(errors))


def test_the_trainee_reads_low_at_the_foot_and_right_at_eye_level(month: Month) -> None:
    errors = set_errors(month, "oskar")
    low, level = errors[errors[:, 0] < 120], errors[errors[:, 0] > 400]
    assert low[:, 1].mean() == pytest.approx(-3.0 * (1 - low[:, 0].mean() / 400), abs=0.35)
    assert abs(level[:, 1].mean()) < 0.25


def test_parallax_is_a_line_up_to_eye_level() -> None:
    oskar = quillmere().person("oskar")
    assert [parallax_mm(oskar, height) for height in (0, 200, 400, 650)] == [-3.0, -1.5, 0.0, 0.0]


def test_a_scale_with_its_zero_at_the_top_is_read_downwards() -> None:
    lab, rng = quillmere(), np.random.default_rng(1)
    heights = [read_mm(lab.person("nkechi"), lab.column("Cedar"), 650.0, rng) for _ in range(50)]
    assert np.mean([float(height) for height in heights]) == pytest.approx(50.0, abs=0.2)
    assert all(height % lab.column("Cedar").division_mm == 0 for height in heights)


@pytest.mark.parametrize(
    ("height", "slip"),
    [("432.5", "423.5"), ("396.0", "369.0"), ("182.5", "192.5"), ("650.0", "640.0")],
)
def test_a_slip_exchanges_near_digits_or_misreads_a_centimetre(height: str, slip: str) -> None:
    assert mistyped(Decimal(height)) == Decimal(slip)


def test_certificates_are_as_wrong_as_they_say() -> None:
    lab = quillmere()
    certified = {glass.label: float(glass.density_g_cm3) for glass in lab.floats}
    errors = [
        certified[label] - true
        for end, seed in SEEDED
        for label, true in month_ending(end, seed).truth.float_density.items()
    ]
    assert len(errors) == len(SEEDED) * 62
    assert np.std(errors) == pytest.approx(5e-5, rel=0.12)  # U = 0.0001, k = 2


def test_baths_keep_their_band_but_for_one_evening(month: Month) -> None:
    typed = [e for e in month.events if isinstance(e, ev.TemperatureTyped)]
    out = [e for e in typed if abs(float(e.temperature_c) - 23) > 0.1]
    assert {event.bath for event in out} == {"Bath 2"}
    assert 2 <= len(out) <= 4
    assert out[-1].at - out[0].at < timedelta(hours=4)


def bracketed(month: Month) -> list[tuple[float, float]]:
    """True density and the plain interpolation between the two floats, as a lab would take it."""
    certified = {glass.label: glass.density_g_cm3 for glass in quillmere().floats}
    last: dict[str, ev.FloatSetRead] = {}
    fills = {e.specimen: e.fill for e in month.events if isinstance(e, ev.SpecimenDropped)}
    pairs = []
    for event in month.events:
        if isinstance(event, ev.FloatSetRead):
            last[event.fill] = event
        if not isinstance(event, ev.ReadingMade) or event.gap is None:
            continue
        used = last[fills[event.specimen]]
        wrong = event.reading in slipped(month) or used.float_set in slipped(month)
        if event.outcome != "at_rest" or wrong:
            continue
        heights = dict(used.heights)
        upper, lower = event.gap
        share = (event.height_mm - heights[lower]) / (heights[upper] - heights[lower])
        density = certified[lower] + (certified[upper] - certified[lower]) * share
        pairs.append((month.truth.specimen_density[event.specimen], float(density)))
    return pairs


def test_bracketing_finds_the_true_density_within_a_few_ten_thousandths(month: Month) -> None:
    light = np.array([pair for pair in bracketed(month) if pair[0] < 1.1])
    errors = light[:, 1] - light[:, 0]
    assert len(errors) > 250
    assert np.sqrt((errors**2).mean()) < 2.5e-4
    assert abs(np.median(errors)) < 6e-5


def test_wren_creeps_up_over_its_last_lots() -> None:
    rises = []
    for end, seed in SEEDED:
        month = month_ending(end, seed)
        wren = [density for lot, density in month.truth.lot_density.items() if lot[:2] == "WR"]
        rises.append(np.polyfit(range(len(wren)), wren, 1)[0])
    assert np.mean(rises) == pytest.approx(3e-5, abs=1.5e-5)
