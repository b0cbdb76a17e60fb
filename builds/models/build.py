"""A build and what is fixed of it: revisions, authorisations, edits, moves from stage to stage."""

from datetime import date

from django.conf import settings
from django.contrib.postgres.indexes import GinIndex
from django.db import models
from django.db.models.functions import Coalesce
from django.urls import reverse

from builds.engineering.vocabulary import BuildKind, GaugeBasis, UnitSystem, VehicleSide
from builds.errors import Meanwhile
from builds.models.columns import EditableRow, money_column
from builds.models.stage import Stage

__all__ = [
    "Authorisation",
    "Build",
    "EditBatch",
    "EditEntry",
    "FindingOverride",
    "FrozenDocument",
    "HoldReason",
    "Revision",
    "StageChange",
]


# Stands for "not promised", so that it sorts after every day.
LAST_DAY = models.Value(date(9999, 12, 31), output_field=models.DateField())


class HoldReason(models.TextChoices):
    """Why a build stands still."""

    PARTS = "parts", "waits for parts"
    CUSTOMER_GEAR = "customer_gear", "waits for the buyer's gear"
    CUSTOMER_ANSWER = "customer_answer", "waits for the buyer's answer"
    VEHICLE = "vehicle", "waits for the vehicle"
    SUBLET = "sublet", "is away at a sublet"
    OTHER = "other", "other"


class Build(EditableRow):
    """One vehicle's job, from order to handover. ``design_version`` counts every edit of its working design."""

    number = models.CharField(max_length=12, unique=True)
    title = models.CharField(max_length=160)
    kind = models.CharField(max_length=20, choices=[(kind.value, kind.value) for kind in BuildKind])
    customer = models.ForeignKey("builds.Customer", on_delete=models.PROTECT, related_name="builds")
    profile = models.ForeignKey("builds.BuyerProfile", on_delete=models.PROTECT, related_name="builds")
    vehicle = models.ForeignKey("builds.Vehicle", on_delete=models.PROTECT, related_name="builds")
    platform = models.ForeignKey("builds.PlatformVersion", on_delete=models.PROTECT, related_name="builds")
    purchase_order = models.CharField(max_length=60, blank=True)
    promised_on = models.DateField(null=True, blank=True)
    units = models.CharField(max_length=10, choices=[(unit.value, unit.value) for unit in UnitSystem])
    gauge_basis = models.CharField(max_length=10, choices=[(basis.value, basis.value) for basis in GaugeBasis])
    driver_side = models.CharField(max_length=10, choices=[(side.value, side.value) for side in VehicleSide])
    wire_colour_scheme = models.CharField(max_length=40, default="function")
    stage = models.CharField(max_length=20, choices=Stage.choices, default=Stage.INTAKE)
    hold_reason = models.CharField(max_length=20, choices=HoldReason.choices, blank=True)
    hold_who_acts = models.CharField(max_length=80, blank=True)
    hold_note = models.CharField(max_length=200, blank=True)
    invoice_number = models.CharField(max_length=60, blank=True)
    design_version = models.PositiveIntegerField(default=1)
    assessed_version = models.PositiveIntegerField(default=0)
    blocking_count = models.PositiveIntegerField(default=0)
    caution_count = models.PositiveIntegerField(default=0)
    note_count = models.PositiveIntegerField(default=0)
    step_count = models.PositiveIntegerField(default=0)
    step_done_count = models.PositiveIntegerField(default=0)
    responsible = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="responsible_builds"
    )
    opened_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="opened_builds")
    opened_at = models.DateTimeField()
    invented = models.BooleanField(default=False)

    class Meta:
        ordering = ["number"]
        indexes = [
            models.Index(fields=["stage", "promised_on"], name="builds_build_stage_promised"),
            GinIndex(fields=["title"], name="builds_build_title_trgm", opclasses=["gin_trgm_ops"]),
            # The job list reads its first page off these two: what is late, then the rest by how it stands.
            models.Index(
                Coalesce("promised_on", LAST_DAY), "number", name="builds_build_by_promise",
                condition=~models.Q(stage__in=("delivered", "closed", "cancelled")),
            ),
            models.Index(
                models.Case(
                    models.When(stage="delivered", then=models.Value(4)),
                    models.When(blocking_count__gt=0, then=models.Value(1)),
                    models.When(~models.Q(hold_reason=""), then=models.Value(2)),
                    default=models.Value(3),
                ),
                Coalesce("promised_on", LAST_DAY), "number", name="builds_build_by_standing",
                condition=~models.Q(stage__in=("closed", "cancelled")),
            ),
        ]  # fmt: skip
        constraints = [
            models.CheckConstraint(
                condition=models.Q(stage__in=Stage.values), name="%(app_label)s_%(class)s_stage_known"
            ),
            models.CheckConstraint(
                condition=models.Q(hold_reason="", hold_who_acts="")
                | (~models.Q(hold_reason="") & ~models.Q(hold_who_acts="")),
                name="%(app_label)s_%(class)s_hold_names_who_acts",
            ),
        ]

    def __str__(self) -> str:
        return self.number

    def get_absolute_url(self) -> str:
        return reverse("build-detail", args=[self.number])

    @property
    def on_hold(self) -> bool:
        """Whether work is stopped, for a reason that names who must act."""
        return bool(self.hold_reason)


class FrozenDocument(models.Model):
    """A canonical document kept as compressed bytes under the SHA-256 of its text; siblings share one row."""

    sha256 = models.CharField(max_length=64, primary_key=True)
    compressed = models.BinaryField()

    def __str__(self) -> str:
        return self.sha256[:12]


class Revision(models.Model):
    """A design as it stood when it was released, immutable; they count A, B, C."""

    build = models.ForeignKey("builds.Build", on_delete=models.PROTECT, related_name="revisions")
    letter = models.CharField(max_length=3)
    sequence = models.PositiveIntegerField()
    document = models.ForeignKey("builds.FrozenDocument", on_delete=models.PROTECT, related_name="revisions")
    design_version = models.PositiveIntegerField()
    summary = models.CharField(max_length=200)
    price_total = money_column()
    crew_h = models.DecimalField(max_digits=8, decimal_places=3)
    released_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="released_revisions"
    )
    released_at = models.DateTimeField()

    class Meta:
        ordering = ["sequence"]
        constraints = [
            models.UniqueConstraint(fields=["build", "sequence"], name="%(app_label)s_%(class)s_sequence_once"),
            models.UniqueConstraint(fields=["build", "letter"], name="%(app_label)s_%(class)s_letter_once"),
        ]

    def __str__(self) -> str:
        return f"{self.build} revision {self.letter}"


class Authorisation(models.Model):
    """Who allowed a revision to be built, how and when; it names the revision's hash."""

    class Kind(models.TextChoices):
        LINK = "link", "signed by link"
        WRITTEN_QUOTE = "written_quote", "signed quote on paper"
        PURCHASE_ORDER = "purchase_order", "purchase order"

    revision = models.ForeignKey("builds.Revision", on_delete=models.PROTECT, related_name="authorisations")
    kind = models.CharField(max_length=20, choices=Kind.choices)
    document_sha256 = models.CharField(max_length=64)
    authorised_by = models.CharField(max_length=120)
    reference = models.CharField(max_length=80, blank=True)
    authorised_at = models.DateTimeField()
    recorded_by = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="recorded_authorisations",
    )
    address = models.GenericIPAddressField(null=True, blank=True)

    class Meta:
        ordering = ["authorised_at", "pk"]

    def __str__(self) -> str:
        return f"{self.revision} by {self.authorised_by}"


class StageChange(models.Model):
    """One move of a build, or a hold set or lifted: append-only."""

    build = models.ForeignKey("builds.Build", on_delete=models.PROTECT, related_name="stage_changes")
    from_stage = models.CharField(max_length=20, choices=Stage.choices)
    to_stage = models.CharField(max_length=20, choices=Stage.choices)
    hold_reason = models.CharField(max_length=20, choices=HoldReason.choices, blank=True)
    note = models.CharField(max_length=200, blank=True)
    open_items = models.JSONField(
        default=list, blank=True, help_text="Steps that stay open: step, part, reason, who returns, by when."
    )
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="stage_changes")
    at = models.DateTimeField()

    class Meta:
        ordering = ["at", "pk"]

    def __str__(self) -> str:
        return f"{self.build}: {self.from_stage} to {self.to_stage}"


class FindingOverride(models.Model):
    """Someone's recorded reason to go on in spite of a blocking finding: append-only."""

    build = models.ForeignKey("builds.Build", on_delete=models.PROTECT, related_name="overrides")
    finding_id = models.CharField(max_length=60)
    subject = models.CharField(max_length=80)
    design_version = models.PositiveIntegerField()
    message = models.CharField(max_length=400)
    reason = models.CharField(max_length=400)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="overrides")
    at = models.DateTimeField()

    class Meta:
        ordering = ["at", "pk"]

    def __str__(self) -> str:
        return f"{self.build}: {self.finding_id} {self.subject}"


class EditBatch(models.Model):
    """One edit of a working design as a person made it; undo plays its entries backwards."""

    build = models.ForeignKey("builds.Build", on_delete=models.PROTECT, related_name="edit_batches")
    design_version = models.PositiveIntegerField(help_text="The version this edit made.")
    words = models.CharField(max_length=200)
    undoes = models.OneToOneField(
        "builds.EditBatch", on_delete=models.PROTECT, null=True, blank=True, related_name="undone_by"
    )
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="edit_batches")
    at = models.DateTimeField()

    # What others changed in the same rows while this edit was typed; told to whoever made it, not kept.
    meanwhile: tuple[Meanwhile, ...] = ()

    class Meta:
        ordering = ["design_version"]
        constraints = [
            models.UniqueConstraint(fields=["build", "design_version"], name="%(app_label)s_%(class)s_version_once"),
        ]

    def __str__(self) -> str:
        return f"{self.build} edit {self.design_version}"


class EditEntry(models.Model):
    """One row of a design as it was before and after; ``before`` null is an addition, ``after`` null a removal."""

    batch = models.ForeignKey("builds.EditBatch", on_delete=models.PROTECT, related_name="entries")
    family = models.CharField(max_length=20)
    key = models.CharField(max_length=60)
    before = models.JSONField(null=True)
    after = models.JSONField(null=True)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(before__isnull=False) | models.Q(after__isnull=False),
                name="%(app_label)s_%(class)s_changes_something",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.family} {self.key}"
