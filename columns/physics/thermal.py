"""What the bath's temperature does to a density that was read against floats.

Floats and specimen share one temperature, so that the liquid cancels. What is left is that the
polymer expands more than the glass of the floats:

    rho(23 °C) = rho(read) (1 + (beta_specimen - beta_float) (T - 23 °C))
"""

from columns.physics.constants import BATH_TEMPERATURE_C
from columns.physics.floats import checked_uncertainty, exact_figure

# Volume expansion per kelvin of the floats' glass: three times the linear 3.3e-6 of borosilicate
# (Callister, Fundamentals of Materials Science and Engineering, 3rd ed., Table B.6).
BOROSILICATE_EXPANSION_PER_K = 9.9e-6


def volume_expansion(linear_expansion_per_k):
    """Volume expansion of an isotropic solid from its linear expansion.

    Parameters
    ----------
    linear_expansion_per_k : float
        Coefficient of linear thermal expansion [1/K]

    Returns
    -------
    float
        Coefficient of volume expansion, three times the linear one [1/K]

    Raises
    ------
    NotANumber
        If the coefficient is not finite.

    References
    ----------
    .. [1] W. D. Callister, Fundamentals of Materials Science and Engineering, 3rd ed., 17.3.
    """
    return 3 * float(exact_figure(linear_expansion_per_k, "The linear expansion"))


def density_at_reference(
    density_g_cm3,
    temperature_c,
    *,
    specimen_expansion_per_k,
    float_expansion_per_k=BOROSILICATE_EXPANSION_PER_K,
):
    """Correct a density, read with floats at the same temperature, to 23 °C.

    Parameters
    ----------
    density_g_cm3 : float
        Density as read against the floats' densities at 23 °C [g/cm^3]
    temperature_c : float
        Temperature of the column when floats and specimen were read [°C]
    specimen_expansion_per_k : float
        Volume expansion of the polymer [1/K]
    float_expansion_per_k : float, optional
        Volume expansion of the floats' glass [1/K]

    Returns
    -------
    float
        Density at 23 °C [g/cm^3]

    Raises
    ------
    NotANumber
        If a figure is not finite.

    Notes
    -----
    First order in the temperature difference. It does not hold when floats and specimen were read
    at different temperatures: the liquid then no longer cancels.

    References
    ----------
    .. [1] JCGM 100:2008, 4.1 (measurement model); mass over volume, both to first order.
    """
    density = float(exact_figure(density_g_cm3, "The density"))
    difference = float(exact_figure(temperature_c, "The temperature")) - float(BATH_TEMPERATURE_C)
    excess = float(exact_figure(specimen_expansion_per_k, "The expansion of the specimen"))
    excess -= float(exact_figure(float_expansion_per_k, "The expansion of the floats"))
    return density * (1 + excess * difference)


def expansion_uncertainty(
    density_g_cm3,
    *,
    temperature_standard_uncertainty_c,
    specimen_expansion_per_k,
    float_expansion_per_k=BOROSILICATE_EXPANSION_PER_K,
):
    """Standard uncertainty of a density at 23 °C through that of the temperature.

    Parameters
    ----------
    density_g_cm3 : float
        Density of the specimen [g/cm^3]
    temperature_standard_uncertainty_c : float
        Standard uncertainty of the temperature that floats and specimen share [°C]
    specimen_expansion_per_k : float
        Volume expansion of the polymer [1/K]
    float_expansion_per_k : float, optional
        Volume expansion of the floats' glass [1/K]

    Returns
    -------
    float
        rho |beta_specimen - beta_float| u(T) [g/cm^3]

    Raises
    ------
    UncertaintyNotValid
        If the temperature's uncertainty is negative.
    NotANumber
        If a figure is not finite.

    References
    ----------
    .. [1] JCGM 100:2008, 5.1.2.
    """
    u_temperature = checked_uncertainty(
        temperature_standard_uncertainty_c, "The temperature's standard uncertainty"
    )
    density = float(exact_figure(density_g_cm3, "The density"))
    excess = float(exact_figure(specimen_expansion_per_k, "The expansion of the specimen"))
    excess -= float(exact_figure(float_expansion_per_k, "The expansion of the floats"))
    return abs(density * excess) * u_temperature
