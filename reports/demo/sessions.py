"""Which column is worked in which shift, by whom, on which lots."""

from __future__ import annotations

from collections import Counter, defaultdict
from dataclasses import dataclass, field
from datetime import datetime, timedelta

import numpy as np

from reports.demo.calendars import DAY, HOUR, MINUTE, MONTH, Calendar
from reports.demo.roster import Roster, Shift
from reports.demo.scenario import Grade, Scenario

CLOSING = 10 * HOUR  # the last hours are a scene of their own
SESSION = 3.6 * HOUR
# start in the shift, and which technician of the team
SLOTS = ((25 * MINUTE, 0), (35 * MINUTE, 1), (245 * MINUTE, 0), (250 * MINUTE, 1))
SHIFT_WEIGHT = {"early": 1.3, "late": 1.0, "night": 0.7}
COLUMN_WEIGHT = {"Ash": 1.2, "Birch": 1.1, "Cedar": 1.0, "Damson": 1.2, "Elm": 1.0, "Fir": 0.8}
PLAQUE_EVERY = 12 * DAY
DOUBLE_SHARE = 0.12  # sessions with two lots
LONG_FORM = "film"  # one lot of it fills a session


@dataclass(eq=False)
class LotPlan:
    grade: Grade
    code: str = ""
    density_shift: float = 0.0
    trouble: str = ""
    repeat_because: str = ""


@dataclass(eq=False)
class Session:
    shift: Shift
    column: str
    fill: str
    start: datetime
    technician: str
    partner: str
    lead: str
    lots: list[LotPlan] = field(default_factory=list)
    repeats: list[LotPlan] = field(default_factory=list)


def plan_sessions(
    scenario: Scenario, roster: Roster, calendar: Calendar, count: int, rng: np.random.Generator
) -> list[Session]:
    """Draw `count` sessions over the month; refuses a number that does not fit."""
    slots = _slots(roster)
    weights = np.array([SHIFT_WEIGHT[shift.name] for shift, *_ in slots])
    order = np.argsort(rng.random(len(slots)) ** (1 / weights))[::-1]
    used: dict[tuple[Shift, str], int] = {}
    tally: Counter[str] = Counter()
    chosen: list[Session] = []
    for index in order:
        if len(chosen) == count:
            break
        shift, start, who = slots[index]
        column = _column_for(calendar, shift, start, used, tally)
        if column is not None:
            used[shift, column] = 1
            tally[column] += 1
            chosen.append(_session(scenario, calendar, shift, column, start, who))
    if len(chosen) < count:
        raise ValueError(f"the month holds {len(chosen)} sessions, {count} were asked for")
    return sorted(chosen, key=lambda session: (session.start, session.column))


def _slots(roster: Roster) -> list[tuple[Shift, datetime, int]]:
    first, last = roster.now - MONTH, roster.now - CLOSING
    return [
        (shift, shift.start + offset, who)
        for shift in roster.shifts
        for offset, who in SLOTS
        if shift.start + offset >= first and shift.start + offset + SESSION <= last
    ]


def _column_for(
    calendar: Calendar,
    shift: Shift,
    start: datetime,
    used: dict[tuple[Shift, str], int],
    tally: Counter[str],
) -> str | None:
    """The free column that has had least of its share of work."""
    free = [
        column
        for column in COLUMN_WEIGHT
        if (shift, column) not in used and calendar.fill_in(column, start, start + SESSION)
    ]
    return min(free, key=lambda name: (tally[name] + 0.5) / COLUMN_WEIGHT[name], default=None)


def _session(
    scenario: Scenario, calendar: Calendar, shift: Shift, column: str, start: datetime, who: int
) -> Session:
    lead, *technicians = [person.username for person in scenario.team(shift.team)]
    fill = calendar.fill_in(column, start, start + SESSION)
    assert fill is not None
    return Session(shift, column, fill, start, technicians[who], technicians[1 - who], lead)


def allot_lots(
    scenario: Scenario, sessions: list[Session], count: int, rng: np.random.Generator
) -> list[LotPlan]:
    """Spread lots over the sessions; the house plaque comes first where it is due."""
    doubles = min(int(DOUBLE_SHARE * len(sessions)), max(count - 1, 0))
    singles = count - 2 * doubles
    if singles < 0 or singles + doubles > len(sessions):
        raise ValueError(f"{count} lots do not fit into {len(sessions)} sessions")
    order = [int(index) for index in rng.permutation(len(sessions))[: singles + doubles]]
    sizes = {index: 2 if place < doubles else 1 for place, index in enumerate(order)}
    tally: Counter[str] = Counter()
    last_plaque: dict[str, datetime] = {}
    lots = []
    for index, session in enumerate(sessions):
        for _ in range(sizes.get(index, 0)):
            lot = LotPlan(_grade_for(scenario, session, tally, last_plaque))
            session.lots.append(lot)
            lots.append(lot)
    return lots


def _grade_for(
    scenario: Scenario, session: Session, tally: Counter[str], last_plaque: dict[str, datetime]
) -> Grade:
    fitting = [grade for grade in scenario.grades if session.column in grade.columns]
    plaque = next((grade for grade in fitting if grade.is_plaque), None)
    since = last_plaque.get(session.fill)
    if plaque is not None and (since is None or session.start - since > PLAQUE_EVERY):
        last_plaque[session.fill] = session.start
        return plaque
    products = [grade for grade in fitting if not grade.is_plaque]
    if session.lots:  # a second lot must still fit into the session
        short = [grade for grade in products if scenario.recipe(grade.recipe).form != LONG_FORM]
        long_first = scenario.recipe(session.lots[0].grade.recipe).form == LONG_FORM
        products = short
        if long_first:
            session.lots[0].grade = short[0]
    choice = min(products, key=lambda grade: (tally[grade.code], grade.code))
    tally[choice.code] += 1
    return choice


def number_lots(lots: list[LotPlan]) -> None:
    """Codes count up to each grade's last number, in the order of the plan."""
    by_grade: dict[str, list[LotPlan]] = defaultdict(list)
    for lot in lots:
        by_grade[lot.grade.code].append(lot)
    for code, own in by_grade.items():
        for index, lot in enumerate(own):
            number = lot.grade.last_lot_number - (len(own) - 1 - index)
            lot.code = f"{code}-{number:04d}"


def session_after(
    sessions: list[Session], instant: datetime, columns: tuple[str, ...]
) -> Session | None:
    """The next session, a few hours on, that has room for a repeat."""
    for session in sessions:
        late_enough = session.start > instant + timedelta(hours=5)
        if (
            late_enough
            and session.column in columns
            and len(session.lots) + len(session.repeats) < 2
        ):
            return session
    return None
