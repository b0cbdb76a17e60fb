"""Rules that hold for every table of the shop: names, units, pairs of who and when, relations, indexes."""

import re
from typing import Any

import pytest
from django.apps import apps
from django.contrib.auth.models import AbstractUser
from django.db import connection, models

MODELS = [model for app in ("builds", "inventory") for model in apps.get_app_config(app).get_models()]
each_model = pytest.mark.parametrize("model", MODELS, ids=lambda model: model.__name__)

# What a decimal column may be counted in; the rest says in its name that it is a pure number, money, or in another
# column's unit.
UNITS = (
    "_a", "_ah", "_c", "_h", "_hours", "_kg", "_km", "_m", "_min", "_mm", "_mohm", "_ratio", "_s", "_v", "_w",
    "_cost", "_price", "_total", "_exponent", "_change",
)  # fmt: skip
IN_ANOTHER_COLUMNS_UNIT = {
    "PartsBillLine.quantity", "Part.reorder_at", "StockBalance.on_hand", "StockBalance.reserved", "BuyerRule.number_value",
    "ChecklistStep.reading_min", "ChecklistStep.reading_max", "ChecklistStep.reading_calculated", "Tick.reading",
}  # fmt: skip
# Who did it is not known inside the shop: the customer signs by link, or a worker finishes.
WHEN_WITHOUT_WHO = {
    "StoredFile.stored_at",  # the photo or packet that names it says who
    "Acceptance.at",  # the customer, by typed name
    "HistoryEntry.at",  # the actor is text: history outlives accounts
    "TimeEntry.started_at", "TimeEntry.ended_at",  # the person of the entry
    "CustomerLink.expires_at", "PacketIssue.finished_at", "Tick.received_at", "CustomerGear.received_at",
}  # fmt: skip
# When is kept by the history of the row.
WHO_WITHOUT_WHEN = {"Booking.by", "Occupancy.by", "Authorisation.recorded_by"}
CASCADES_FROM = {"Build", "PlatformVersion", "BuyerProfile", "Circuit", "OperatingCondition", "Load", "DutyProfile"}


def own_fields(model: type[models.Model]) -> list[Any]:
    """The columns the project itself named."""
    framework = {field.name for field in AbstractUser._meta.get_fields()} if issubclass(model, AbstractUser) else set()
    return [field for field in model._meta.concrete_fields if field.name not in framework]


def label(field: Any) -> str:
    return f"{field.model.__name__}.{field.name}"


@each_model
def test_every_constraint_and_index_is_named_after_its_table(model: type[models.Model]) -> None:
    table = model._meta.db_table
    app = model._meta.app_label
    for constraint in model._meta.constraints:
        assert re.fullmatch(rf"{table}_[a-z0-9_]+", constraint.name), constraint.name
        assert len(constraint.name) <= 63
    for index in model._meta.indexes:
        assert re.fullmatch(rf"{app}_[a-z0-9_]+", index.name), index.name
        assert not re.search(r"_[0-9a-f]{6,}_idx$", index.name), "a name made by the framework"


@pytest.mark.django_db
@each_model
def test_the_database_has_every_constraint_by_that_name(model: type[models.Model]) -> None:
    with connection.cursor() as cursor:
        found = connection.introspection.get_constraints(cursor, model._meta.db_table)
        cursor.execute("select conname from pg_constraint where conrelid = %s::regclass", [model._meta.db_table])
        named = set(found) | {row[0] for row in cursor.fetchall()}

    assert {item.name for item in (*model._meta.constraints, *model._meta.indexes)} <= named


@each_model
def test_every_relation_says_how_it_is_read_backwards(model: type[models.Model]) -> None:
    for field in (*own_fields(model), *model._meta.local_many_to_many):
        if field.is_relation and field.name not in ("groups", "user_permissions"):
            assert field.remote_field.related_name, f"{label(field)} has no related_name"


@each_model
def test_nothing_that_happened_goes_away_with_something_else(model: type[models.Model]) -> None:
    for field in own_fields(model):
        if not field.is_relation:
            continue
        rule, target = field.remote_field.on_delete, field.related_model.__name__
        assert rule in (models.PROTECT, models.CASCADE), f"{label(field)}: {rule}"
        if rule is models.CASCADE:
            assert target in CASCADES_FROM, f"{label(field)} goes with its {target}"


@pytest.mark.django_db
@each_model
def test_every_relation_has_an_index_that_begins_with_it(model: type[models.Model]) -> None:
    with connection.cursor() as cursor:
        cursor.execute(
            "select a.attname from pg_index i join pg_attribute a on a.attrelid = i.indrelid and a.attnum = i.indkey[0]"
            " where i.indrelid = %s::regclass and i.indpred is null and i.indisvalid",
            [model._meta.db_table],
        )
        indexed = {row[0] for row in cursor.fetchall()}

    assert {field.column for field in own_fields(model) if field.is_relation} <= indexed


@each_model
def test_when_and_who_stand_together(model: type[models.Model]) -> None:
    fields = {field.name: field for field in own_fields(model)}
    for name, field in fields.items():
        if name == "at" or (name.endswith("_at") and isinstance(field, models.DateTimeField)):
            partner = name.removesuffix("at") + "by"
            assert partner in fields or label(field) in WHEN_WITHOUT_WHO, f"{label(field)} has no {partner}"
        if (name == "by" or name.endswith("_by")) and field.is_relation and field.related_model.__name__ == "Person":
            partner = name.removesuffix("by") + "at"
            assert partner in fields or label(field) in WHO_WITHOUT_WHEN, f"{label(field)} has no {partner}"


@each_model
def test_a_pair_that_may_be_empty_is_empty_together(model: type[models.Model]) -> None:
    fields = {field.name: field for field in own_fields(model)}
    checks = [
        constraint.condition.referenced_base_fields
        for constraint in model._meta.constraints
        if isinstance(constraint, models.CheckConstraint)
    ]
    for name, when in fields.items():
        who = fields.get(f"{name.removesuffix('_at')}_by")
        if not name.endswith("_at") or who is None:
            continue
        if when.null or who.null:
            assert any({name, who.name} <= names for names in checks), f"{label(when)} and {who.name} may be half empty"


@each_model
def test_names_say_what_a_column_holds(model: type[models.Model]) -> None:
    for field in own_fields(model):
        name, is_moment = field.name, isinstance(field, models.DateTimeField)
        if isinstance(field, models.DateField):
            wanted = (
                name == "at" or name.endswith("_at") or name == "lease_until" if is_moment else name.endswith("_on")
            )
            assert wanted, f"{label(field)} is {'a moment' if is_moment else 'a day'}"
        if isinstance(field, models.DecimalField):
            assert name.endswith(UNITS) or label(field) in IN_ANOTHER_COLUMNS_UNIT, f"{label(field)}: in what unit?"
        assert not isinstance(field, models.FloatField), f"{label(field)} would not keep what was typed"
        if isinstance(field, models.DateField):
            assert not (field.auto_now or field.auto_now_add), f"{label(field)}: the caller says when"


@each_model
def test_an_empty_text_is_empty_not_null(model: type[models.Model]) -> None:
    for field in own_fields(model):
        if isinstance(field, models.CharField | models.TextField):
            assert not field.null, label(field)


@each_model
def test_every_table_says_what_it_is_and_every_row_has_a_name(model: type[models.Model]) -> None:
    assert model.__doc__ and not model.__doc__.startswith(f"{model.__name__}("), "no words on what a row is"
    assert "__str__" in vars(model)


def test_lists_of_exceptions_name_columns_that_exist() -> None:
    known = {label(field) for model in MODELS for field in own_fields(model)}

    assert known >= IN_ANOTHER_COLUMNS_UNIT | WHEN_WITHOUT_WHO | WHO_WITHOUT_WHEN
    assert {model.__name__ for model in MODELS} >= CASCADES_FROM
