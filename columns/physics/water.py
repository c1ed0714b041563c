"""Density of water, for checks of floats and of thermometers."""

from columns.physics import errors

# Tanaka et al., Metrologia 38 (2001) 301-309: coefficients a1 to a5 of the CIPM formula.
_A1, _A2, _A3, _A4, _A5 = -3.983035, 301.797, 522528.9, 69.34881, 999.97495
_LOWEST_C, _HIGHEST_C = 0.0, 40.0


def water_density(temperature_c):
    """Density of air-free water at normal pressure.

    Parameters
    ----------
    temperature_c : float
        Temperature on ITS-90, 0 to 40 [°C]

    Returns
    -------
    float
        Density of standard mean ocean water at 101.325 kPa [g/cm^3]

    Raises
    ------
    TemperatureOutOfRange
        If the temperature lies outside 0 to 40 °C or is not finite.

    References
    ----------
    .. [1] M. Tanaka, G. Girard, R. Davis, A. Peuto, N. Bignell, Metrologia 38 (2001) 301-309,
       doi:10.1088/0026-1394/38/4/3.
    """
    t = float(temperature_c)
    if not _LOWEST_C <= t <= _HIGHEST_C:
        raise errors.TemperatureOutOfRange(
            f"The formula for water holds from {_LOWEST_C:g} to {_HIGHEST_C:g} °C, not at {t} °C.",
            value=t,
            limit=(_LOWEST_C, _HIGHEST_C),
            source="Tanaka et al., Metrologia 38 (2001) 301",
        )
    # Tanaka et al., equation (1); kg/m³ to g/cm³ at the end.
    return _A5 * (1 - (t + _A1) ** 2 * (t + _A2) / (_A3 * (t + _A4))) / 1000
