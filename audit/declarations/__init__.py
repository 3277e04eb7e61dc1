"""Declarations: ``schemas/*.yaml`` as objects, and their compilers."""

from audit.declarations.load import Declarations, load_declarations

__all__ = ["Declarations", "load_declarations"]
