"""Numbers of ``antennas.yaml`` from which passages are told."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

__all__ = ["Limits"]


@dataclass(frozen=True, slots=True)
class Limits:
    """Numbers of ``antennas.yaml`` under ``passages``; see there."""

    gap_s: float
    gap_least_s: float
    gap_most_s: float
    gap_reads: int
    gap_wider: float
    gap_enough: int
    gap_slack_ms: int
    gap_whole: float
    gap_rare: float
    gap_alike: float
    gap_often: float
    gap_beyond: float
    sitting_from_s: float
    within_s: float
    beside_least: float
    beside_off_s: Sequence[float]
    beside_gain: float
    report_from: float
    unknown_from: float
    reads_least: int
    alone_groups: int
    many_changes: int
    pause_share: float
    pause_share_held: float
    pause_times: float
    pause_least_s: float
    rest_share: float
    rest_most: float
    rest_over: float
    rest_steps: int
    pause_enough: int
    linger_s: float
    run_most: int
    brief_most: int
    rest_chances: int
    rest_floor: float
    wonder: float
    first_flight: float
    nest_turns: float
    off_hears: float
    hears_most: float
    sleep_true: float
    start_efficiency: float
    start_looks: Sequence[float]
    start_before: Sequence[float]
    start_rest: float
    start_reach: float
    start_lingers: Sequence[float]
    start_rests: Sequence[float]
    start_near: Sequence[Sequence[float]]
    start_after: Sequence[Sequence[float]]
    start_nest: Sequence[float]
    start_changing: Sequence[float]
    start_long: float
    start_short: float
    start_passage_orders: Sequence[float]
    start_look_orders: Sequence[float]
    look_elsewhere: float
    ready_reads: int
    ready_enough: int
    ready_wait_s: float
    ready_shared_s: float
    ready_rare: float
    ready_times: float
    ready_often: float
    ready_look_s: float
    ready_most: float
    weight_ready: float
    reach_least: float
    reach_most: float
    weight_efficiency: float
    weight_off: float
    weight_spell: float
    weight_sides: float
    alike_between: Sequence[float]
    weight_shares: float
    weight_manners: float
    weight_unseen: float
    weight_nest: float
    weight_young: float
    weight_pauses: float
    weight_all: float
    learn_groups: int
    turns: int
    settled: float
    bound_at: Sequence[int]
