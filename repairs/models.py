"""Re-exports the models of this app for Django."""

from __future__ import annotations

from repairs.release import Concession, Release
from repairs.tallies import LastChange, Tally
from repairs.work import Cycle, Patch, PatchFlaw, Retest, Step

__all__ = ["Concession", "Cycle", "LastChange", "Patch", "PatchFlaw", "Release", "Retest", "Step", "Tally"]
