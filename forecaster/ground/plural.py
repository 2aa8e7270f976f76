"""Numbers with their nouns, for messages of every layer."""

from __future__ import annotations


def counted(number: int, noun: str) -> str:
    """Return a number with its noun: ``1 cell``, ``2 cells``."""
    return f"{number:,} {noun}{'' if number == 1 else 's'}"
