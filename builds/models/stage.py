"""The life of a build as one table; :mod:`builds.services.stages` is the only thing that moves it."""

from django.db import models

__all__ = ["GUARDS", "TRANSITIONS", "Stage"]


class Stage(models.TextChoices):
    """Where a build stands, from the order to the handover; on hold is a flag beside it, not a stage."""

    INTAKE = "intake", "Intake"
    QUOTED = "quoted", "Quoted"
    APPROVED = "approved", "Approved"
    IN_WORK = "in_work", "In work"
    FINAL_CHECK = "final_check", "Final check"
    READY = "ready", "Ready"
    DELIVERED = "delivered", "Delivered"
    CLOSED = "closed", "Closed"
    CANCELLED = "cancelled", "Cancelled"


# Each guard by name: what must be true, in the words a person is told when it is not.
GUARDS: dict[str, str] = {
    "revision-released": "A revision is released.",
    "revision-authorised": "The newest revision carries the customer's authorisation.",
    "no-open-blocking": "No blocking finding is open without a recorded override.",
    "parts-reserved": "Every shop part of the revision is reserved.",
    "steps-made": "The checklist is made from the authorised revision.",
    "steps-done": "Every step is done, or each that is not is named as open: part, reason, who comes back, by when; "
    "never stop lamps, airbag zones, protection at the source, sealed penetrations or weight near a limit.",
    "steps-passed": "Every step is passed, not applicable or named as open before the final check, and every hold point is signed; "
    "never open: stop lamps, airbag zones, protection at the source, sealed penetrations or weight near a limit.",
    "serials-recorded": "Every serial that the parts bill asks for is recorded, or the missing ones are named as open.",
    "packet-ready": "A packet of the newest revision is rendered.",
    "design-released": "The design is that of the newest revision: release what has changed since and make its packet, or undo it.",
    "packet-signed": "The customer has signed the packet.",
    "invoice-or-reason": "An invoice number or a reason is given.",
    "reason-given": "A reason is given.",
}

TRANSITIONS: dict[tuple[Stage, Stage], tuple[str, ...]] = {
    (Stage.INTAKE, Stage.QUOTED): ("revision-released",),
    (Stage.QUOTED, Stage.INTAKE): ("reason-given",),
    (Stage.QUOTED, Stage.APPROVED): ("revision-authorised",),
    (Stage.APPROVED, Stage.IN_WORK): ("revision-authorised", "no-open-blocking", "parts-reserved", "steps-made"),
    (Stage.IN_WORK, Stage.FINAL_CHECK): ("revision-authorised", "no-open-blocking", "steps-done"),
    (Stage.FINAL_CHECK, Stage.IN_WORK): ("reason-given",),
    (Stage.FINAL_CHECK, Stage.READY): ("steps-passed", "serials-recorded", "no-open-blocking", "packet-ready"),
    (Stage.READY, Stage.IN_WORK): ("reason-given",),
    (Stage.READY, Stage.DELIVERED): ("design-released", "no-open-blocking", "packet-signed"),
    (Stage.DELIVERED, Stage.CLOSED): ("invoice-or-reason",),
    (Stage.INTAKE, Stage.CANCELLED): ("reason-given",),
    (Stage.QUOTED, Stage.CANCELLED): ("reason-given",),
    (Stage.APPROVED, Stage.CANCELLED): ("reason-given",),
    (Stage.IN_WORK, Stage.CANCELLED): ("reason-given",),
}
