"""Float sets for tests; every default is valid."""

from decimal import Decimal

from columns.physics import FloatReading, calibrate

NINE = (
    ("F-101", "0.9051", "612.5"),
    ("F-102", "0.9103", "550.0"),
    ("F-103", "0.9150", "492.5"),
    ("F-104", "0.9202", "430.0"),
    ("F-105", "0.9249", "372.5"),
    ("F-106", "0.9301", "309.5"),
    ("F-107", "0.9350", "250.0"),
    ("F-108", "0.9399", "190.5"),
    ("F-109", "0.9451", "127.5"),
)


def reading(name, density, height, u=0.0001, **extra):
    return FloatReading(
        id=name,
        density_g_cm3=Decimal(density),
        standard_uncertainty_g_cm3=u,
        height_mm=Decimal(height),
        **extra,
    )


def readings(rows=NINE, **extra):
    return [reading(*row, **extra) for row in rows]


def calibrated(rows=NINE, *, height_u=0.4, extra=None, **options):
    return calibrate(
        readings(rows, **(extra or {})), height_standard_uncertainty_mm=height_u, **options
    )
