"""How near curve and bracketing come to the truth: run `python -m tests.benchmarks.curve_accuracy`.

The table of docs/algorithms/calibration-curve.md, in 1e-5 g/cm³. Takes about a minute.
"""

from tests.columns.physics.column_simulator import SCENARIOS
from tests.columns.physics.judging import PHASES, judge

COLUMNS = 100


def figures(scores, name):
    whole = [scores[phase].rms(name) for phase in PHASES]
    return [*whole, scores["aged"].rms(name, only_ends=True)]


def row(scores):
    errors = (figures(scores, name) for name in ("bracketing", "curve"))
    shares = (
        [sum(held) / len(held) for held in (getattr(scores[phase], name) for phase in PHASES)]
        for name in ("bracketing_held", "held")
    )
    return [
        *(" / ".join(f"{1e5 * each:.1f}" for each in line) for line in errors),
        *(" / ".join(f"{each:.2f}" for each in line) for line in shares),
    ]


def main():
    for known in (False, True):
        print(f"liquid's ends {'known' if known else 'unknown'}")
        for name in SCENARIOS:
            scores = judge(name, columns=COLUMNS, known_liquid=known)
            print("|", name, "|", " | ".join(row(scores)), "|")


if __name__ == "__main__":
    main()
