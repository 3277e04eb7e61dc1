"""Declared species: names, numbers with a source, and refusals."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from audit.declarations import load_declarations
from audit.declarations.species import Species, species_index
from audit.models.growth import mean, spread
from audit.refusal import DeclarationRefusal

if TYPE_CHECKING:
    from pathlib import Path

    from audit.declarations import Declarations


@pytest.mark.parametrize(
    ("text", "slug"),
    [
        ("Barn Owl", "barn_owl"),
        ("barn owl", "barn_owl"),
        ("barn_owl", "barn_owl"),
        ("Barn-owl ", "barn_owl"),
        ("Schleiereule", "barn_owl"),
        ("effraie des clochers", "barn_owl"),
        ("lechuza común", "barn_owl"),
        ("LECHUZA COMUN", "barn_owl"),
        ("kerkuil", "barn_owl"),
        ("Tyto alba", "barn_owl"),
        ("07350", "barn_owl"),
        ("7350", "barn_owl"),
        ("Kestrel", "common_kestrel"),
        ("Turmfalke", "common_kestrel"),
        ("Faucon crecerelle", "common_kestrel"),
        ("torenvalk", "common_kestrel"),
        ("Parus major", "great_tit"),
        ("mésange bleue", "blue_tit"),
        ("chevêche d'Athéna", "little_owl"),
        ("Star", "starling"),
        ("B Owl", "barn_owl"),
        ("b. owl", "barn_owl"),
        ("Gr. tit", "great_tit"),
        ("L Owl", "little_owl"),
        ("E kestrel", "common_kestrel"),
        # short for none, or without its last word
        ("tit", None),
        ("owl", None),
        ("Barn o", None),
        ("coal tit", None),
        ("an owl", None),
        ("", None),
        (float("nan"), None),
        (None, None),
    ],
)
def test_text_means_a_species(declared: Declarations, text: object, slug: str | None) -> None:
    assert species_index(declared.species).resolve(text) == slug


def test_a_name_of_two_species_means_neither() -> None:
    two = {"a": Species("a", ("sparrow",), {}), "b": Species("b", ("Sparrow",), {})}
    assert species_index(two).resolve("sparrow") is None
    assert species_index(two).resolve("a") == "a"
    both = {"a": Species("a", ("house sparrow",), {}), "b": Species("b", ("House sparrow",), {})}
    assert species_index(both).resolve("house sparrow") is None
    near = {"a": Species("a", ("blue tit",), {}), "b": Species("b", ("bearded tit",), {})}
    assert species_index(near).resolve("b tit") is None
    assert species_index(near).resolve("bl tit") == "a"


def test_every_name_means_its_own_species(declared: Declarations) -> None:
    index = species_index(declared.species)
    for slug, species in declared.species.items():
        assert species.names
        for name in (slug, species.scientific, *species.names):
            assert index.resolve(name) == slug


def test_every_number_is_positive_where_the_curve_holds(declared: Declarations) -> None:
    for species in declared.species.values():
        for curve in species.curves.values():
            for age in (curve.first_day, (curve.first_day + curve.last_day) / 2, curve.last_day):
                assert mean(curve, age) > 0
                assert spread(curve, age) > 0


def test_every_species_says_what_to_heed(declared: Declarations) -> None:
    for species in declared.species.values():
        for word in ("licence", "scheme", "local law", "warm", "dark", "distressed"):
            assert word in species.caution, species.slug


def test_every_number_has_a_source(declared: Declarations) -> None:
    for species in declared.species.values():
        assert species.limits
        assert all(limit.source for limit in species.limits.values())


def write(folder: Path, text: str) -> Path:
    (folder / "species").mkdir()
    (folder / "species" / "marsh_owl.yaml").write_text(text, encoding="utf-8")
    return folder


def test_a_team_adds_a_species(tmp_path: Path) -> None:
    declared = load_declarations(write(tmp_path, "scientific: Asio exemplaris\nnames:\n  en: [marsh owl]\n"))
    assert species_index(declared.species).resolve("Marsh Owl") == "marsh_owl"
    assert declared.species["marsh_owl"].curves == {}


CURVE = """scientific: Asio exemplaris
names:
  en: [marsh owl]
curves:
  mass_g:
    model: gompertz
    asymptote: 300
    rate: 0.1
    {rest}
    from_day: 0
    to_day: 30
    spread: {{form: table, days: {days}, values: [1, 2], source: test, grade: memory}}
    source: test
    grade: memory
"""


def test_a_curve_that_lacks_a_number_is_refused(tmp_path: Path) -> None:
    folder = write(tmp_path, CURVE.format(rest="offset: 0", days=[0, 9]))
    with pytest.raises(DeclarationRefusal, match="inflection is missing") as refused:
        load_declarations(folder)
    assert "marsh_owl.yaml, line 5" in refused.value.where
    assert "inflection" in refused.value.cure


def test_days_that_do_not_rise_are_refused(tmp_path: Path) -> None:
    folder = write(tmp_path, CURVE.format(rest="inflection: 10", days=[9, 0]))
    with pytest.raises(DeclarationRefusal, match="must rise"):
        load_declarations(folder)


def test_a_number_without_a_source_is_refused(tmp_path: Path) -> None:
    text = (
        "scientific: Asio exemplaris\nnames: {en: [marsh owl]}\n"
        "ringing: {youngest_day: {value: 12, grade: memory}}\n"
    )
    with pytest.raises(DeclarationRefusal, match="source"):
        load_declarations(write(tmp_path, text))


def test_an_unknown_key_is_refused_with_the_nearest(tmp_path: Path) -> None:
    text = "scientific: Asio exemplaris\nnames: {en: [marsh owl]}\ncurve: {}\n"
    with pytest.raises(DeclarationRefusal) as refused:
        load_declarations(write(tmp_path, text))
    assert "curves" in refused.value.cure
