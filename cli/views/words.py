"""Numbers and lists in words, the same on every screen."""

from __future__ import annotations

from collections.abc import Sequence

WHO_DECIDES = "The supplier's safety data sheet, local rules and the responsible teacher decide."
UNPREPARED = "An unlabelled chemical that nobody prepared as an exercise is not a case for this program."


def percent(probability: float) -> str:
    """A probability [-] as a percentage that never claims certainty: 0.99996 is "> 99.9 %"."""
    if probability > 0.999:
        return "> 99.9 %"
    if probability < 0.001:
        return "< 0.1 %"
    if probability > 0.985 or probability < 0.015:
        return f"{100 * probability:.1f} %"
    return f"{100 * probability:.0f} %"


def signed(decibans: float) -> str:
    """Decibans with their sign."""
    return f"{decibans:+.0f}".replace("-", "−") if decibans else "0"


def listed(names: Sequence[str], last: str = "and") -> str:
    """`a, b and c`."""
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} {last} {names[-1]}"


def count(number: int, one: str, many: str = "") -> str:
    """`1 vial`, `3 vials`."""
    return f"{number:,} {one if number == 1 else many or one + 's'}"
