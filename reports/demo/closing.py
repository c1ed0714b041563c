"""The last ten hours, told in minutes before the end, so that a newcomer finds the bench alive.

At the end: Ash, Cedar and Damson are calibrated within 8 h, Birch's calibration has run out, Elm
settles, Fir is on hold; pieces are falling, ready, half read and waiting for release.
"""

from __future__ import annotations

from datetime import datetime

from reports.demo import events
from reports.demo.bench import Bench
from reports.demo.calendars import MINUTE
from reports.demo.roster import Roster
from reports.demo.scenario import Scenario
from reports.demo.sessions import LotPlan
from reports.demo.upkeep import hold_fast_pass
from reports.demo.work import drop_all, prepare, register

# grade of each lot of the scene, in the order in which they are registered
LOTS = ("AV", "HR", "HR", "PL", "TL", "WR", "AV", "WR", "PL", "HR")
BATH_ROUNDS = (598, 470, 240, 30)


class Closing:
    def __init__(self, bench: Bench, roster: Roster, lots: list[LotPlan]) -> None:
        self.bench = bench
        self.roster = roster
        self.lots = iter(lots)

    def at(self, minutes_before: float) -> datetime:
        return self.roster.now - minutes_before * MINUTE

    def hand(self, minutes_before: float, place: int) -> str:
        """Who is at work then: place 0 is the shift lead, 1 and 2 the technicians."""
        shift = self.roster.at(self.at(minutes_before))
        assert shift is not None
        return self.bench.scenario.team(shift.team)[place].username

    def play(self) -> None:
        self._birch_runs_out()
        self._fir_on_hold()
        self._cedar_ready()
        self._damson_released()
        self._damson_half_read()
        self._ash_film()
        self._ash_ready()
        self._birch_without_calibration()
        self._fresh_pieces()

    def floats(self, minutes: float, fill: str, place: int) -> None:
        self.bench.read_floats(self.at(minutes), self.hand(minutes, place), fill)

    def lot(self, minutes: float, place: int) -> LotPlan:
        lot = next(self.lots)
        register(self.bench, lot, self.at(minutes), self.hand(minutes, place))
        return lot

    def drop(
        self, minutes: float, place: int, lot: LotPlan, fill: str
    ) -> list[events.SpecimenDropped]:
        return drop_all(self.bench, self.hand(minutes, place), lot, fill, self.at(minutes))

    def read(
        self, minutes: float, place: int, piece: events.SpecimenDropped, outcome: str = "at_rest"
    ) -> None:
        self.bench.read(self.at(minutes), self.hand(minutes, place), piece.specimen, outcome)

    def read_all(self, minutes: float, place: int, pieces: list[events.SpecimenDropped]) -> None:
        for number, piece in enumerate(pieces):
            self.read(minutes - number, place, piece)

    def prepare(
        self, minutes: float, place: int, lot: LotPlan, pieces: list[events.SpecimenDropped]
    ) -> events.DeterminationPrepared:
        counted = [piece.specimen for piece in pieces]
        by = self.hand(minutes, place)
        return prepare(self.bench, by, lot.code, counted, self.at(minutes))

    def release(self, minutes: float, prepared: events.DeterminationPrepared) -> None:
        self.bench.add(
            events.DeterminationReleased(
                at=self.at(minutes),
                by=self.hand(minutes, 0),
                determination=prepared.determination,
            )
        )

    def _birch_runs_out(self) -> None:
        self.floats(580, "birch-2", 1)
        lot = self.lot(576, 1)
        pieces = self.drop(572, 1, lot, "birch-2")
        self.read_all(540, 1, pieces)
        self.release(505, self.prepare(530, 1, lot, pieces))

    def _fir_on_hold(self) -> None:
        hold_fast_pass(self.bench, "fir-1", self.at(490), self.at(472), self.hand(470, 0))

    def _cedar_ready(self) -> None:
        self.floats(330, "cedar-1", 2)
        lot = self.lot(325, 2)
        pieces = self.drop(322, 2, lot, "cedar-1")
        self.read_all(300, 2, pieces)
        self.prepare(292, 2, lot, pieces)

    def _damson_released(self) -> None:
        self.floats(200, "damson-1", 1)
        lot = self.lot(196, 1)
        pieces = self.drop(192, 1, lot, "damson-1")
        self.read_all(172, 1, pieces)
        self.release(118, self.prepare(163, 1, lot, pieces))

    def _damson_half_read(self) -> None:
        """Two read, a bubble on the third: a draft."""
        lot = self.lot(156, 1)
        pieces = self.drop(152, 1, lot, "damson-1")
        self.read_all(134, 1, pieces[:2])
        self.read(131, 1, pieces[2], "bubble")
        self.prepare(128, 1, lot, pieces[:2])

    def _ash_ready(self) -> None:
        lot = self.lot(171, 2)
        pieces = self.drop(169, 2, lot, "ash-1")
        self.read_all(126, 2, pieces)
        self.prepare(114, 2, lot, pieces)

    def _ash_film(self) -> None:
        """A film that is looked at again after 3 h: one piece still waits for that."""
        self.floats(222, "ash-1", 2)
        lot = self.lot(216, 2)
        pieces = self.drop(213, 2, lot, "ash-1")
        self.read_all(116, 2, pieces)
        self.read_all(25, 2, pieces[:2])

    def _birch_without_calibration(self) -> None:
        """Dropped while the old calibration ran, read when it had run out: kept, no density."""
        lot = self.lot(142, 1)
        pieces = self.drop(138, 1, lot, "birch-2")
        self.read(44, 1, pieces[0])

    def _fresh_pieces(self) -> None:
        self.floats(120, "cedar-1", 2)
        ash, damson, cedar = self.lot(46, 1), self.lot(24, 1), self.lot(9, 2)
        self.drop(42, 1, ash, "ash-1")
        first = self.at(21)
        by = self.hand(21, 1)
        for minutes in (0, 2.5, 15.5):
            self.bench.drop(first + minutes * MINUTE, by, damson.code, "damson-1")
        self.bench.drop(self.at(4), self.hand(4, 2), cedar.code, "cedar-1")


def closing_lots(scenario: Scenario) -> list[LotPlan]:
    return [LotPlan(scenario.grade(code)) for code in LOTS]
