"""What the fault runs found, as rows of one table."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field


@dataclass
class Row:
    """One kind of fault.

    Parameters
    ----------
    what : str
        What was done to the program.
    tried : int
        How many times.
    failed : int
        How many times it was not borne as promised.
    figures : str
        What was measured beside.
    examples : list of str
        The first failures, in words.
    """

    what: str
    tried: int = 0
    failed: int = 0
    figures: str = ""
    examples: list[str] = field(default_factory=list)

    def fail(self, why: str) -> None:
        """One more failure."""
        self.failed += 1
        if len(self.examples) < 5 and why not in self.examples:
            self.examples.append(why)

    def check(self, good: object, why: str) -> None:
        """One more trial; a failure unless it was good."""
        self.tried += 1
        if not good:
            self.fail(why)


def percentile(values: Sequence[float], percent: float) -> float:
    """The value at most `percent` in a hundred lie above; 0 without values."""
    ordered = sorted(values)
    return ordered[min(len(ordered) - 1, int(len(ordered) * percent / 100))] if ordered else 0.0


def show(subject: str, rows: Sequence[Row]) -> int:
    """Print a table; returns how many failures it holds."""
    print(f"{subject}")
    wide = max(len(row.what) for row in rows)
    for row in rows:
        print(f"  {row.what:<{wide}}  {row.tried:>9,} tried  {row.failed:>4,} failed  {row.figures}".rstrip())
        for example in row.examples:
            print(f"      {example}")
    return sum(row.failed for row in rows)
