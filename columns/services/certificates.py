"""Certificates of floats and their documents."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Any

from django.core.files.base import ContentFile
from django.utils.translation import gettext as _

from columns import audit_actions as actions
from columns.models import CalibrationFloat, Certificate
from columns.physics import standard_uncertainty
from columns.selectors.calibrations import calibrations_using
from columns.services.calibrations import recompute
from columns.services.documents import digest, read_document
from columns.services.locks import locked
from columns.services.pairs import check_density
from labsite.accounts.models import User
from labsite.accounts.permissions import require
from labsite.accounts.roles import Action
from labsite.audit.services import change
from labsite.clock import SYSTEM_CLOCK, Clock
from labsite.errors import Conflict, RuleViolation
from labsite.reasons import require_reason

# Our rule: a float certified worse than this cannot serve the method; a unit is likely wrong.
LARGEST_U_G_CM3 = Decimal("0.01")
# Our rule: a year outside this range is a slip of the keyboard.
EARLIEST, LATEST = date(1950, 1, 1), date(2199, 12, 31)
COVERAGE_FACTORS = (Decimal(1), Decimal(5))
CHECKED = (
    "calibration_float",
    "number",
    "issuer",
    "density_g_cm3",
    "expanded_uncertainty_g_cm3",
    "coverage_factor",
    "common_standard_uncertainty_g_cm3",
    "issued_on",
    "valid_until",
)


def add_certificate(
    *,
    actor: User,
    calibration_float: CalibrationFloat,
    number: str,
    issuer: str,
    density_g_cm3: Decimal,
    expanded_uncertainty_g_cm3: Decimal,
    issued_on: date,
    valid_until: date,
    coverage_factor: Decimal = Decimal(2),
    common_standard_uncertainty_g_cm3: Decimal = Decimal(0),
    clock: Clock = SYSTEM_CLOCK,
) -> Certificate:
    """Add a certificate. Float sets saved so far keep the one they were computed with.

    Raises Conflict when this float has the number already, RuleViolation for reversed dates, a
    density in another unit or an uncertainty that cannot be.
    """
    require(actor, Action.MANAGE_EQUIPMENT)
    certificate = Certificate(
        calibration_float=calibration_float,
        number=" ".join(number.split()),
        issuer=" ".join(issuer.split()),
        density_g_cm3=density_g_cm3,
        expanded_uncertainty_g_cm3=expanded_uncertainty_g_cm3,
        coverage_factor=coverage_factor,
        common_standard_uncertainty_g_cm3=common_standard_uncertainty_g_cm3,
        issued_on=issued_on,
        valid_until=valid_until,
    )
    with change(actor=actor, clock=clock) as log:
        locked(calibration_float)
        _check(certificate)
        return log.add(certificate, actions.CERTIFICATE_ADDED)


def change_certificate(
    *,
    actor: User,
    certificate: Certificate,
    reason: str,
    clock: Clock = SYSTEM_CLOCK,
    **fields: Any,
) -> Certificate:
    """Correct a certificate that was typed wrongly.

    Each calibration that rests on it is computed again as a new row; what rests on those follows.
    """
    require(actor, Action.MANAGE_EQUIPMENT)
    reason = require_reason(reason)
    with change(actor=actor, clock=clock, reason=reason) as log:
        certificate = locked(certificate)
        if not fields:
            raise RuleViolation("nothing_to_change", _("Name at least one field to change."))
        _check(_changed_copy(certificate, fields))
        log.update(certificate, actions.CERTIFICATE_CHANGED, **fields)
        for calibration in calibrations_using(certificate):
            recompute(log, calibration)
        return certificate


def _changed_copy(certificate: Certificate, fields: dict[str, Any]) -> Certificate:
    values = {name: getattr(certificate, name) for name in CHECKED} | fields
    return Certificate(pk=certificate.pk, **values)


def _check(certificate: Certificate) -> None:
    _check_words(certificate)
    _check_dates(certificate)
    check_density(certificate.density_g_cm3, field="density_g_cm3")
    _check_uncertainty(certificate)


def _check_words(certificate: Certificate) -> None:
    empty = [name for name in ("number", "issuer") if not getattr(certificate, name)]
    if empty:
        raise RuleViolation(
            "name_required",
            _("A certificate has a number and an issuer."),
            fields={name: [_("may not be empty")] for name in empty},
        )
    others = Certificate.objects.filter(
        calibration_float=certificate.calibration_float, number__iexact=certificate.number
    ).exclude(pk=certificate.pk)
    if others.exists():
        raise Conflict(
            "certificate_number_taken",
            _("%(float)s has a certificate %(number)s already.")
            % {"float": certificate.calibration_float, "number": certificate.number},
            fields={"number": [_("taken")]},
        )


def _check_dates(certificate: Certificate) -> None:
    for name in ("issued_on", "valid_until"):
        if not EARLIEST <= getattr(certificate, name) <= LATEST:
            raise RuleViolation(
                "date_implausible",
                _("No certificate has this date. Check the year."),
                fields={name: [_("check the year")]},
            )
    if certificate.valid_until < certificate.issued_on:
        raise RuleViolation(
            "dates_reversed",
            _("Valid until %(until)s is before the day of issue, %(issued)s. Check both dates.")
            % {
                "until": certificate.valid_until.isoformat(),
                "issued": certificate.issued_on.isoformat(),
            },
            fields={"valid_until": [_("before the day of issue")]},
        )


def _check_uncertainty(certificate: Certificate) -> None:
    expanded, factor = certificate.expanded_uncertainty_g_cm3, certificate.coverage_factor
    low, high = COVERAGE_FACTORS
    if not low <= factor <= high:
        raise RuleViolation(
            "coverage_factor_implausible",
            _("A coverage factor lies between %(low)s and %(high)s.") % {"low": low, "high": high},
            fields={"coverage_factor": [_("usually 2")]},
        )
    if not 0 < expanded <= LARGEST_U_G_CM3:
        raise RuleViolation(
            "uncertainty_implausible",
            _("An expanded uncertainty lies above 0 and up to %(largest)s g/cm³. Is it in kg/m³?")
            % {"largest": LARGEST_U_G_CM3},
            fields={"expanded_uncertainty_g_cm3": [_("in g/cm³")]},
        )
    common = certificate.common_standard_uncertainty_g_cm3
    if not 0 <= common <= standard_uncertainty(expanded, factor):
        raise RuleViolation(
            "common_uncertainty_above_whole",
            _("The common part cannot exceed the whole standard uncertainty, U / k."),
            fields={"common_standard_uncertainty_g_cm3": [_("above U / k")]},
        )


def attach_document(
    *, actor: User, certificate: Certificate, upload: Any, clock: Clock = SYSTEM_CLOCK
) -> Certificate:
    """Attach the certificate's document; it can be attached once.

    Raises Conflict when there is one, TooLarge or UnsupportedType for a file that is none.
    """
    require(actor, Action.MANAGE_EQUIPMENT)
    content, kind = read_document(upload)
    with change(actor=actor, clock=clock) as log:
        certificate = locked(certificate)
        if certificate.document:
            raise Conflict(
                "document_present",
                _("A document is attached already. A new issue is a new certificate."),
            )
        storage = certificate.document.storage
        name = storage.save(f"certificates/{certificate.pk}.{kind}", ContentFile(content))
        try:
            return log.update(
                certificate,
                actions.DOCUMENT_ATTACHED,
                document=name,
                document_sha256=digest(content),
            )
        except BaseException:
            storage.delete(name)
            raise
