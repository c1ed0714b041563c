"""The lab's equipment and what is known about it."""

from columns.models.baths import Bath, BathTemperature, Thermometer
from columns.models.columns import BasketPass, Column, Fill, Hold, LiquidPair
from columns.models.flags import ColumnFlag
from columns.models.floats import (
    CalibrationFloat,
    Certificate,
    FloatPlacement,
    FloatQuarantine,
)
from columns.models.rules import LabRules, ReaderRepeatability
from columns.models.sets import Calibration, FloatHeight, FloatSet

__all__ = [
    "BasketPass",
    "Bath",
    "BathTemperature",
    "Calibration",
    "CalibrationFloat",
    "Certificate",
    "Column",
    "ColumnFlag",
    "Fill",
    "FloatHeight",
    "FloatPlacement",
    "FloatQuarantine",
    "FloatSet",
    "Hold",
    "LabRules",
    "LiquidPair",
    "ReaderRepeatability",
    "Thermometer",
]
