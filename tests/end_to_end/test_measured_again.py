"""What was planted in the demo's sheet of repeated measures is found."""

from __future__ import annotations

from demo.make_measured import BAG_FORGOTTEN, EXCHANGED, HANDS, SHEET

import audit


def test_what_was_planted_is_found():
    told = audit.measuring(SHEET, trainer="MK")
    wing, net = told.of("wing_mm"), told.of("net_g")
    # who reads long does so within the interval, and nobody else does; whose wings scatter is named
    lean = {wing.repeats.observers[bias.observer]: bias for bias in wing.without_odd.biases}
    assert lean["AB"].low < HANDS["AB"][0] < lean["AB"].high
    assert lean["AB"].low > 0
    assert lean["IP"].low < 0 < lean["IP"].high
    unsteady = dict(wing.without_odd.own)
    assert min(unsteady["IP"].low, HANDS["IP"][1]) > 1.5 > unsteady["MK"].high
    # both slips of the pen are found and named
    assert [odd.bird for odd in wing.odd] == [EXCHANGED[1]]
    assert [slip.kind for slip in wing.odd[0].slips] == ["neighbours"]
    assert [odd.bird for odd in net.odd] == [BAG_FORGOTTEN[1]]
    assert [slip.kind for slip in net.odd[0].slips] == ["bag"]
