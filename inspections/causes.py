"""Why ground does not stand, in words: kept in English with the swath, said to each reader in their language. No database."""

from __future__ import annotations

from typing import Literal

from accounts.wording import noted, say

Outcome = Literal["low", "good", "high"]
Phase = Literal["start", "during", "event", "end"]
Event = Literal["battery", "electrode", "lead", "setting", "operator", "drop"]
Verdict = Literal["pending", "stands", "held", "lost"]

_OWNER = noted("the owner's acceptance with a reason")
_LATE_CHECK = noted("a late check made before any adjustment, or the owner's acceptance with a reason")
_CERTIFICATE = noted("the certificate's as-found value in tolerance, or the owner's acceptance with a reason")
_PROOF = noted("the proof of the return, or the owner's acceptance with a reason")
_TOUCH = noted("a touch of bare concrete that alarms, or the owner's acceptance with a reason")

# code: verdict, words (kept in English; causes_in_words says them to a reader), what can restore it
CAUSES: dict[str, tuple[Verdict, str, str]] = {
    "out_of_calibration": ("lost", noted("the instrument was out of calibration"), _CERTIFICATE),
    "no_return": ("lost", noted("no proof of the return"), _PROOF),
    "no_touch": ("lost", noted("no touch of bare concrete away from the return"), _TOUCH),
    "too_dry": ("lost", noted("bare concrete gave no alarm, being too dry for this test"), _TOUCH),
    "maybe_too_fast": ("held", noted("swept faster than allowed, if the times are right"), noted("the answer")),
    "too_fast": ("lost", noted("swept too fast"), _OWNER),
    "voltage_below": ("lost", noted("the voltage was set below the band"), _OWNER),
    "no_voltage": ("held", noted("the specification gives no voltage for this film"), _OWNER),
    "voltage_above": ("held", noted("the voltage was set above the band"), _OWNER),
    "damp": ("held", noted("the surface was damp or salty"), _OWNER),
    "uncured": ("held", noted("the film was not cured"), _OWNER),
    "not_wetted": ("lost", noted("the sponge did not wet the film"), _OWNER),
    "wet_runs": ("lost", noted("the sponge left runs or puddles"), _OWNER),
    "film_too_thick": ("held", noted("the film is thicker than a wet sponge reaches through"), _OWNER),
    "before_first_check": ("lost", noted("swept before the first good check"), _LATE_CHECK),
    "check_low": ("lost", "", _LATE_CHECK),
    "check_high": ("held", "", _OWNER),
    "check_late": ("lost", noted("the next check came later than the check interval allows"), _LATE_CHECK),
    "check_missing": ("lost", noted("the run was closed without the check that was due"), _LATE_CHECK),
    "awaits_check": ("pending", noted("waits for the next check"), noted("the next check")),
    "event_unchecked": ("lost", "", _LATE_CHECK),
}
FAILED: dict[tuple[Phase, Outcome], str] = {
    ("start", "low"): noted("the check at the start failed low"),
    ("start", "high"): noted("the check at the start failed high"),
    ("during", "low"): noted("the check failed low"),
    ("during", "high"): noted("the check failed high"),
    ("event", "low"): noted("the check after an event failed low"),
    ("event", "high"): noted("the check after an event failed high"),
    ("end", "low"): noted("the check at the end failed low"),
    ("end", "high"): noted("the check at the end failed high"),
}
EVENTS: dict[Event, str] = {
    "battery": noted("the battery was changed and work went on without a check"),
    "electrode": noted("the electrode was changed and work went on without a check"),
    "lead": noted("a lead was changed and work went on without a check"),
    "setting": noted("the setting was changed and work went on without a check"),
    "operator": noted("the operator changed and work went on without a check"),
    "drop": noted("the instrument was dropped and work went on without a check"),
}


def causes_in_words(kept: str) -> str:
    """Kept causes ("; " between them, "island: " before one that is an island's) in the reader's language."""
    spoken = []
    for cause in kept.split("; "):
        island, mark, words = cause.rpartition(": ")
        spoken.append(f"{island}{mark}{say(words)}" if words else cause)
    return "; ".join(spoken)
