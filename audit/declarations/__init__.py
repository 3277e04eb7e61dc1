"""Declarations: ``schemas/*.yaml`` as objects, and their compilers."""

from audit.declarations.load import Declarations, declarations_of, load_declarations

__all__ = ["Declarations", "declarations_of", "load_declarations"]
