"""What a rule says that it heeds: nothing else changes its answers, and each column does somewhere."""

from __future__ import annotations

from functools import cache
from itertools import product

import numpy as np
import pytest
from dirty_seasons import declared, dirty_season, spoilt

from audit.rules import RULES
from audit.rules.earlier_birds import EARLIER
from audit.rules.heard import LOG
from audit.rules.heeded import BIRDS, BOX_VISITS, RINGINGS, TAG_BOOK, WEIGHINGS, together
from audit.rules.layouts import Layouts
from audit.rules.round import Answered, ask, ask_all
from audit.rules.rule import EVERYTHING, Rule

SEASONS = (
    ("first", 1, 12, ""),
    ("first", 2, 18, ""),
    ("other", 3, 12, "mixed"),
    ("other", 4, 18, "all_species"),
    ("other", 5, 14, "mixed"),
)
WAYS = ("blank", "mix", "drop")
NAMED = {rule.slug: rule for rule in RULES}
#: Rules that look at all there is.
ALL = {"reading", "declared"}
#: Columns laid out for several rules at once.
SHARED = {
    (table, field)
    for group in (BIRDS, BOX_VISITS, RINGINGS, TAG_BOOK, WEIGHINGS)
    for table, fields in group.items()
    for field in fields
}
#: Rules that say nothing without a log of antennas.
HEARD = ("heard_life", "heard_end", "heard_whose", "logger")
#: Heeded columns that matter too seldom for these seasons, with what they are there for.
OPTIONAL = {
    ("boxes", "boxes", "since"): "visits before a box was hung",
    ("boxes", "boxes", "until"): "visits after a box was taken down",
    ("boxes", "handlings", "time"): "how soon a row follows one of the visit next to it",
    ("boxes", "visits", "time"): "of which of two visits of a day a page is",
    ("brood", "boxes", "capacity"): "more young than a box holds",
    ("brood", "visits", "eggs"): "young where there were eggs just now",
    ("brood", "handlings", "condition"): "dead young are no longer counted",
    ("brood", "handlings", "remarks"): "dead young are no longer counted",
    ("cleaning", "boxes", "antennas"): "which boxes have a logger",
    ("cleaning", "boxes", "camera"): "which boxes have a camera",
    ("dates", "handlings", "age_days"): "a day of hatching that contradicts the age",
    ("dates", "handlings", "time"): "a date that breaks the order of times",
    ("digits", "handlings", "scribe"): "who wrote, where no ringer is named",
    ("growth", "handlings", "hatch_date"): "an age by the day of hatching",
    ("reader", "tag_reads", "reader"): "readers whose clocks differ",
    ("ring_order", "ring_losses", "date"): "rings taken off a bird after it had them",
    ("tag_twice", "ring_losses", "date"): "rings taken off a bird after it had them",
    ("ring_stock", "ring_losses", "fate"): "what became of a lost ring, for the sentence",
    ("ring_stock", "ring_losses", "date"): "rings used before they were lost",
    ("ring_stock", "ring_stock", "issued"): "rings used before they were issued",
    ("ring_stock", "ring_stock", "issued_to"): "rings of another ringer",
    ("tag_leg", "handlings", "ring_leg"): "tag and ring on one leg",
    # these seasons have no earlier ones: see the tests of the rule on earlier seasons
    **{
        (slug, "earlier", field): "what a bird was in an earlier season"
        for slug in ("earlier", "tag_code", "ring_order", *HEARD)
        for field in EARLIER["earlier"]
    },
    # nor a log of antennas: see test_rule_heard_heeds
    **{
        (slug, table, field): "what the antennas heard"
        for slug in HEARD
        for table, fields in LOG.items()
        for field in fields
    },
    **{("logger", "boxes", field): "which boxes have a logger" for field in ("box", "antennas", "until")},
    ("logger", "visits", "logger_downloaded"): "who brought the log home",
}


@cache
def answers_of(place):
    return ask_all(dirty_season(*SEASONS[place]), declared(), RULES, Layouts())


def asked(slug, place):
    """Return the answer of a rule in a season and the cells in doubt before it."""
    at = [rule.slug for rule in RULES].index(slug)
    answers = answers_of(place)
    return answers[at], answers[at - 1].doubted if at else frozenset()


def told(answer: Answered):
    """All that an answer says but the texts and marks of the cells shown."""
    findings = [
        (
            finding.rule,
            finding.severity,
            finding.message,
            [(s.cell.label, s.cell.field, s.suggested, s.p_error, s.p_fix) for s in finding.suspects],
            [(cell.label, cell.field) for cell in finding.witnesses],
        )
        for finding in answer.findings
    ]
    return findings, answer.not_run, answer.ran


def columns_of(season):
    return {(name, field) for name, table in season.tables.items() for field in table.typed.columns}


def heeded(rule):
    return {(name, field) for name, fields in rule.heeds.items() for field in fields}


def told_of_spoilt(rule, place, columns, how, seed=7):
    season = dirty_season(*SEASONS[place])
    other = spoilt(season, columns, how, np.random.default_rng(seed))
    _, doubted = asked(rule.slug, place)
    seen = frozenset(cell for cell in doubted if (season.table_of(cell[0]), cell[1]) not in columns)
    return told(ask(rule, other, declared(), seen))


@pytest.mark.parametrize("slug", sorted(set(NAMED) - ALL))
@pytest.mark.parametrize("place", range(len(SEASONS)))
def test_no_other_column_changes_an_answer(slug, place):
    rule = NAMED[slug]
    others = columns_of(dirty_season(*SEASONS[place])) - heeded(rule)
    assert others
    answer = told(asked(slug, place)[0])
    for how in WAYS:
        assert told_of_spoilt(rule, place, others, how) == answer, f"{how} {sorted(others)}"


def idle(slug, columns):
    """Those of some columns that change no answer of a rule in any of the seasons."""
    rule = NAMED[slug]
    left = set(columns)
    for place, how in product(range(len(SEASONS)), WAYS):
        answer = told(asked(slug, place)[0])
        there = columns_of(dirty_season(*SEASONS[place]))
        left -= {column for column in left & there if told_of_spoilt(rule, place, {column}, how) != answer}
    return left


@pytest.mark.parametrize("slug", sorted(set(NAMED) - ALL))
def test_every_column_of_its_own_matters_somewhere(slug):
    """Columns that a rule heeds only because of what it lays out together with others are met below."""
    own = {column for column in heeded(NAMED[slug]) - SHARED if (slug, *column) not in OPTIONAL}
    assert idle(slug, own) == set()


def test_every_shared_column_matters_to_some_rule():
    left = SHARED - {(table, field) for _, table, field in OPTIONAL}
    assert left
    for slug in sorted(set(NAMED) - ALL):
        left -= (left & heeded(NAMED[slug])) - idle(slug, left & heeded(NAMED[slug]))
    assert left == set()


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.slug)
def test_what_a_rule_needs_it_heeds(rule):
    if rule.heeds is EVERYTHING:
        assert rule.slug in ALL
        return
    for table, fields in rule.needs.items():
        assert set(fields) <= set(rule.heeds[table])
    declared_columns = {(name, field) for name, one in declared().tables.items() for field in one.names}
    assert heeded(rule) <= declared_columns


def test_a_rule_that_does_not_say_heeds_everything():
    rule = Rule("mine", {}, NAMED["weekday"].check)
    assert rule.minds({("visits", "dead")})
    assert not NAMED["weekday"].minds({("visits", "date")})
    assert NAMED["weekday"].minds({("visits", "date"), ("handlings", "date")})


def test_a_column_that_is_heeded_but_not_named_is_seen():
    forgetful = Rule("ring_leg", {}, NAMED["ring_leg"].check, {"handlings": ("ring",)})
    others = columns_of(dirty_season(*SEASONS[1])) - heeded(forgetful)
    answer = told(asked("ring_leg", 1)[0])
    assert any(told_of_spoilt(forgetful, 1, others, how) != answer for how in WAYS)


def test_columns_are_put_together():
    assert together({"a": ("x",)}, {"a": ("x", "y"), "b": ()}) == {"a": ("x", "y"), "b": ()}
