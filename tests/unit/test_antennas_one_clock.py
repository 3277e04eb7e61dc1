"""A clock that began anew in 2000, in rows that were sorted by time."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from audit.antennas.clock_numbers import clock_numbers
from audit.antennas.logger_memory import Memory
from audit.antennas.one_clock import clock_of
from audit.antennas.put_on_together import holes_of_steps, put_on_together
from audit.declarations.load import load_declarations

DAY = 86_400_000
START, ANEW = 20_570 * DAY, 10_957 * DAY
NUMBERS = clock_numbers(load_declarations())


def _memory(lost, *, in_order):
    """Eight days of beats every quarter of an hour; the battery was flat after some of them."""
    true = START + np.arange(8 * 96) * 900_000
    shown = np.where(true >= START + lost * DAY, true - START - int(lost * DAY) + ANEW, true)
    order = np.arange(len(true)) if in_order else np.argsort(shown, kind="stable")
    place = np.arange(len(true))
    return true[order], Memory(place, np.zeros(len(true), dtype=np.int64), shown[order], -1, place)


@pytest.mark.parametrize("lost", [3.0, 5.55])
def test_reads_of_2000_are_put_behind_the_rest_where_other_loggers_went_on(lost):
    true, memory = _memory(lost, in_order=False)
    clock, memory, _ = clock_of(memory, (), NUMBERS, ended=-(8 - lost) * DAY)
    assert [piece.known for piece in clock.pieces] == [True, True]
    assert np.abs(memory.at - clock.offset - true[memory.place]).max() <= 900_000
    assert clock.pieces[1].kind == "reset"


def test_nothing_is_known_of_them_where_nothing_tells_which_came_first():
    _, memory = _memory(5.0, in_order=False)
    clock, _, _ = clock_of(memory, (), NUMBERS)
    assert [piece.known for piece in clock.pieces] == [False, True]
    assert not clock.offset.any()


def test_in_the_order_of_the_memory_beats_tell():
    true, memory = _memory(5.0, in_order=True)
    clock, memory, _ = clock_of(memory, (), NUMBERS)
    assert np.abs(memory.at - clock.offset - true).max() <= 2000


def test_a_step_that_two_boxes_show_is_believed_of_a_third():
    # a hole of an hour and no birds: beats alone leave it open whether the logger was off
    true = START + np.arange(8 * 24) * 3_600_000
    shown = true + np.where(true >= START + 4 * DAY, 3_600_000, 0)
    place = np.arange(len(true))
    memory = Memory(place, np.zeros(len(true), dtype=np.int64), shown, -1, place)
    alone, _, _ = clock_of(memory, (), NUMBERS)
    assert len(alone.pieces) == 1
    hole = holes_of_steps(replace(alone, doubtful=((4 * 24, 0.3),)), memory.at, 5.0, 0.1)
    others = put_on_together({1: hole, 2: hole}, 5.0, 2)
    clock, _, _ = clock_of(memory, (), NUMBERS, others=others)
    assert [round(piece.offset_s) for piece in clock.pieces] == [0, 3600]
    assert not len(put_on_together({1: hole, 2: []}, 5.0, 2))
