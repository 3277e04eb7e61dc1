"""Where the shipped declarations stand: one locator for a checkout, an editable install and a wheel."""

from __future__ import annotations

from pathlib import Path

from audit.refusal import DeclarationRefusal

__all__ = ["schemas_folder"]


def schemas_folder() -> Path:
    """Find the shipped ``schemas/`` folder.

    In a wheel it lies inside the package; in a checkout or an editable install it lies beside it.

    Raises
    ------
    DeclarationRefusal
        Neither place holds it: the installation is incomplete.
    """
    package = Path(__file__).resolve().parent.parent
    places = (package / "schemas", package.parent / "schemas")
    for place in places:
        if (place / "forms").is_dir():
            return place
    raise DeclarationRefusal(
        "The folder of declarations is missing.",
        where=" or ".join(str(place) for place in places),
        cure="Install nestproof again.",
    )
