"""What changed in any editable row; written by triggers, readable by the shop, writable by nobody."""

from django.db import models

__all__ = ["HistoryEntry"]


class HistoryEntry(models.Model):
    """One insert, update or delete of one row, with the row before and after."""

    at = models.DateTimeField()
    table_name = models.CharField(max_length=80)
    row_id = models.CharField(max_length=80)
    operation = models.CharField(max_length=6)
    actor = models.CharField(max_length=150, blank=True)
    before = models.JSONField(null=True)
    after = models.JSONField(null=True)

    class Meta:
        ordering = ["pk"]
        indexes = [models.Index(fields=["table_name", "row_id"], name="builds_history_row")]

    def __str__(self) -> str:
        return f"{self.operation} {self.table_name} {self.row_id}"
