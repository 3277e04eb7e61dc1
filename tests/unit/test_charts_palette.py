"""The palette: readable, and apart for the common kinds of colour blindness."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest

from audit.charts.palette import FATES, INK, PAPER, PLAIN, QUIET, ROLES, TONES

# Machado, Oliveira & Fernandes 2009, IEEE Trans. Vis. Comput. Graph. 15(6), severity 1.0
# (matrices from memory).
BLINDNESS = {
    "none": np.eye(3),
    "protan": [
        [0.152286, 1.052583, -0.204868],
        [0.114503, 0.786281, 0.099216],
        [-0.003882, -0.048116, 1.051998],
    ],
    "deutan": [
        [0.367322, 0.860646, -0.227968],
        [0.280085, 0.672501, 0.047413],
        [-0.011820, 0.042940, 0.968881],
    ],
    "tritan": [
        [1.255528, -0.076749, -0.178779],
        [-0.078411, 0.930809, 0.147602],
        [0.004733, 0.691367, 0.303900],
    ],
}


def linear(colour):
    """sRGB to linear light, IEC 61966-2-1."""
    value = np.array([int(colour[i : i + 2], 16) for i in (1, 3, 5)]) / 255
    return np.where(value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4)


def contrast(one, other):
    """Contrast ratio, WCAG 2.1."""
    light = sorted(float(linear(c) @ [0.2126, 0.7152, 0.0722]) for c in (one, other))
    return (light[1] + 0.05) / (light[0] + 0.05)


def lab(rgb):
    """CIE L*a*b*, D65."""
    xyz = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]]) @ rgb
    f = np.cbrt(np.clip(xyz / [0.9505, 1.0, 1.089], 1e-9, None))
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])


def test_text_is_readable():
    # WCAG 2.1, success criterion 1.4.3: at least 4.5 to 1; 1.4.11: marks at least 3 to 1.
    for tone in TONES.values():
        assert contrast(INK, tone.fill) >= 7
        assert contrast(tone.mark, PAPER) >= 3.5
    assert contrast(INK, PAPER) >= 7
    assert contrast(QUIET, PAPER) >= 4.5
    assert contrast(PLAIN, PAPER) >= 3


@pytest.mark.parametrize("blindness", BLINDNESS)
def test_marks_and_fills_keep_apart(blindness):
    matrix = np.array(BLINDNESS[blindness])
    for colours, least in (
        ([tone.mark for tone in TONES.values()] + [PLAIN], 15),
        ([tone.fill for tone in TONES.values()] + [PAPER], 9),
    ):
        for one, other in combinations(colours, 2):
            seen = [lab(np.clip(matrix @ linear(colour), 0, 1)) for colour in (one, other)]
            assert np.linalg.norm(seen[0] - seen[1]) >= least, (one, other)


def test_no_meaning_by_colour_alone():
    for part in ("word", "shape", "border", "underline"):
        assert len({getattr(tone, part) for tone in TONES.values()}) == len(TONES)


def test_roles_are_told_apart_by_shape_or_fill_and_from_severities():
    # the four hollow circles stand in pictures of different kinds
    looks = {(role.shape, role.fill == PAPER) for role in ROLES.values()}
    assert len(looks) >= 6
    assert not {role.shape for role in ROLES.values()} & {tone.shape for tone in TONES.values()}
    assert len({role.word for role in ROLES.values()}) == len(ROLES)
    assert all(contrast(role.mark, PAPER) >= 3 for role in ROLES.values())


def test_signs_of_fates_are_readable():
    # WCAG 2.1, success criterion 1.4.3
    for tone in FATES.values():
        assert contrast(tone.ink, tone.fill) >= 4.5


@pytest.mark.parametrize("blindness", BLINDNESS)
def test_fates_keep_apart(blindness):
    matrix = np.array(BLINDNESS[blindness])
    for one, other in combinations(sorted({tone.fill for tone in FATES.values()}), 2):
        seen = [lab(np.clip(matrix @ linear(colour), 0, 1)) for colour in (one, other)]
        assert np.linalg.norm(seen[0] - seen[1]) >= 15, (one, other)


def test_every_fate_has_a_sign_of_its_own():
    from audit.rules.fates import Fate
    from audit.rules.tag_ledger import TagFate

    assert {fate.value for fate in (*Fate, *TagFate)} == set(FATES)
    assert len({tone.sign for tone in FATES.values()}) == len(FATES)
