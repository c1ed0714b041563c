"""Statistics of a determination: replicates, outliers, uncertainty budget.

Pure: standard library, numpy, scipy and `columns.physics` only. `__all__` is the public list.
"""

from samples.stats.budgets import Budget, BudgetPart, determination_uncertainty
from samples.stats.outliers import grubbs_critical_value, grubbs_test
from samples.stats.replicates import (
    PooledScatter,
    Replicates,
    check_spread,
    pool_scatter,
    summarise_replicates,
)

__all__ = [
    "Budget",
    "BudgetPart",
    "PooledScatter",
    "Replicates",
    "check_spread",
    "determination_uncertainty",
    "grubbs_critical_value",
    "grubbs_test",
    "pool_scatter",
    "summarise_replicates",
]
