"""Grades, lots, the pieces dropped for them, and the densities that follow."""

from samples.models.determinations import Determination, DeterminationPart
from samples.models.grades import Grade, PreparationRecipe
from samples.models.lots import Lot
from samples.models.readings import DensityResult, Reading, Specimen

__all__ = [
    "DensityResult",
    "Determination",
    "DeterminationPart",
    "Grade",
    "Lot",
    "PreparationRecipe",
    "Reading",
    "Specimen",
]
