"""What a calibration costs: run `python -m tests.benchmarks.calibration`.

Processor times are given as they are and as a ratio to a fixed piece of linear algebra, so that
runs on different and on busy machines compare. Nothing is asserted: a timed assertion fails on a
busy machine.
"""

import statistics
import time
from decimal import Decimal

import numpy as np

from tests.columns.physics.sets import NINE, calibrated

ROUNDS = 60
SPECIMENS = tuple(Decimal(height) for height in ("401.0", "402.5", "250.5"))


def calibrate_and_read(rows):
    column = calibrated(rows)
    return [column.density_at(height) for height in SPECIMENS]


def yardstick():
    """Orthogonal factors of two thousand small matrices, too small for threads to matter."""
    stack = np.random.default_rng(1).normal(size=(2000, 13, 4))
    return np.linalg.qr(stack)


def median_ms(job):
    times = []
    for _ in range(ROUNDS):
        start = time.process_time()
        job()
        times.append(time.process_time() - start)
    return 1000 * statistics.median(times)


def main():
    unit = median_ms(yardstick)
    print(f"yardstick                  {unit:7.2f} ms")
    for count in (4, 5, 9):
        cost = median_ms(lambda rows=NINE[-count:]: calibrate_and_read(rows))
        print(f"{count} floats and 3 specimens {cost:9.2f} ms   {cost / unit:5.2f} yardsticks")


if __name__ == "__main__":
    main()
