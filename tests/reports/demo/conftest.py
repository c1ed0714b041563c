from __future__ import annotations

from datetime import UTC, datetime

import pytest

from reports.demo.simulator import Month
from tests.reports.demo.replay import month_ending


@pytest.fixture(scope="session")
def month() -> Month:
    return month_ending(datetime(2026, 10, 6, 8, 58, tzinfo=UTC))
