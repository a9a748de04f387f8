"""No export without consent: what the case facts say of it, or why not."""

from __future__ import annotations

from dataclasses import dataclass

from tracker.core.case import Case


@dataclass(frozen=True, slots=True)
class Refusal:
    """Why nothing is exported, in a sentence; whoever asked writes it into the record of the review."""

    reason: str


def consent(case: Case) -> Refusal | None:
    """None if the case facts say yes to the recording, else why there is no export.

    Only a plain yes counts: recordings made for teaching need consent (GMC, Making and using visual and
    audio recordings of patients).
    """
    fact = case.protocol.consent_fact
    if fact is None:
        return Refusal("No export: the protocol file names no case fact for consent to the recording.")
    label, said = case.protocol.label(fact), case.facts.get(fact)
    if said is True:
        return None
    word = "“no”" if said is False else "not answered"
    return Refusal(f"No export: “{label}” is {word} in the case facts. It has to be “yes”.")
