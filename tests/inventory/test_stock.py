"""The stock ledger: what there is follows from it, and it can never go below zero, whoever asks at once."""

import contextlib
import threading
from decimal import Decimal
from uuid import uuid4

import pytest
from django.db import DatabaseError, IntegrityError, connection, transaction
from hypothesis import given, settings
from hypothesis import strategies as st

from builds.models import Person, Role
from inventory.errors import NotEnoughStock, StockError
from inventory.models import Part, StockBalance, StockEntry
from inventory.selectors.stock import balances, job_stock
from inventory.services import stock
from tests.factories.builds import AT, make_person
from tests.factories.inventory import make_part, put_in_stock

pytestmark = pytest.mark.django_db


@pytest.fixture
def by() -> Person:
    return make_person(Role.PARTS_CLERK)


def test_balance_follows_every_kind_of_movement(by: Person) -> None:
    part = make_part()
    put_in_stock(part, 10, by)
    told = {"part": part, "by": by, "at": AT}
    stock.reserve(quantity=Decimal(4), job="2614", job_line="", event_id=uuid4(), **told)
    stock.issue(quantity=Decimal(3), job="2614", job_line="", event_id=uuid4(), **told)
    stock.release(quantity=Decimal(1), job="2614", job_line="", event_id=uuid4(), **told)
    stock.return_to_stock(quantity=Decimal(1), job="2614", job_line="", event_id=uuid4(), **told)
    stock.count(counted=Decimal(7), reference="count", event_id=uuid4(), **told)

    balance = balances([part.pk])[part.pk]
    # 10 - 3 + 1 = 8 by the ledger, 7 counted
    assert (balance.on_hand, balance.reserved, balance.available) == (7, 0, 7)
    assert job_stock("2614")[part.pk].issued == 2


def test_more_than_available_is_refused_with_the_figures(by: Person) -> None:
    part = make_part()
    put_in_stock(part, 2, by)

    with pytest.raises(NotEnoughStock, match=r"2\.000 on hand, 0\.000 reserved, 2\.000 available"):
        stock.reserve(part=part, quantity=Decimal(3), job="2614", job_line="", by=by, at=AT, event_id=uuid4())
    assert StockEntry.objects.count() == 1


def test_issue_cannot_take_what_is_kept_for_another_job(by: Person) -> None:
    part = make_part()
    put_in_stock(part, 5, by)
    stock.reserve(part=part, quantity=Decimal(5), job="2612", job_line="", by=by, at=AT, event_id=uuid4())

    with pytest.raises(NotEnoughStock, match="0 reserved for job 2614"):
        stock.issue(part=part, quantity=Decimal(1), job="2614", job_line="", by=by, at=AT, event_id=uuid4())


def test_movement_sent_twice_happens_once(by: Person) -> None:
    part, event_id = make_part(), uuid4()
    for _ in range(2):
        stock.receive(part=part, quantity=Decimal(5), unit_cost=None, reference="", by=by, at=AT, event_id=event_id)

    assert stock.balance_of(part).on_hand == 5
    with pytest.raises(StockError, match="other figures"):
        stock.receive(part=part, quantity=Decimal(6), unit_cost=None, reference="", by=by, at=AT, event_id=event_id)


@pytest.mark.parametrize("quantity", ["0", "-1", "NaN", "Infinity"])
def test_quantity_that_is_not_above_zero_is_refused(by: Person, quantity: str) -> None:
    with pytest.raises(StockError):
        stock.receive(part=make_part(), quantity=Decimal(quantity), unit_cost=None, reference="", by=by, at=AT,
                      event_id=uuid4())  # fmt: skip


@pytest.mark.owner
def test_ledger_and_balance_cannot_be_rewritten_even_by_the_owner(by: Person) -> None:
    part = make_part()
    put_in_stock(part, 5, by)

    for statement in ("update inventory_stockentry set on_hand_change = 500", "delete from inventory_stockentry"):
        with pytest.raises(IntegrityError, match="append-only"), transaction.atomic(), connection.cursor() as cursor:
            cursor.execute(statement)
    with pytest.raises(IntegrityError), transaction.atomic():
        StockBalance.objects.filter(part=part).update(on_hand=Decimal(-1))


@settings(max_examples=25, deadline=None)
@given(
    moves=st.lists(
        st.tuples(st.sampled_from(["receive", "reserve", "release", "issue", "return_to_stock"]), st.integers(1, 6)),
        max_size=25,
    )
)
def test_no_order_of_movements_takes_the_ledger_below_zero(moves: list[tuple[str, int]]) -> None:
    with transaction.atomic():
        by, part = make_person(Role.PARTS_CLERK), make_part()
        for kind, quantity in moves:
            job = {"reference": "", "unit_cost": None} if kind == "receive" else {"job": "J", "job_line": ""}
            with contextlib.suppress(NotEnoughStock):
                getattr(stock, kind)(part=part, quantity=Decimal(quantity), by=by, at=AT, event_id=uuid4(), **job)
        on_hand = sum((entry.on_hand_change for entry in part.stock_entries.all()), Decimal(0))
        reserved = sum((entry.reserved_change for entry in part.stock_entries.all()), Decimal(0))
        balance = stock.balance_of(part)

        assert (balance.on_hand, balance.reserved) == (on_hand, reserved)
        assert 0 <= reserved <= on_hand
        transaction.set_rollback(True)


@pytest.mark.django_db(transaction=True)
def test_two_jobs_after_the_last_piece_at_once_do_not_both_get_it() -> None:
    by, part = make_person(Role.PARTS_CLERK), make_part()
    put_in_stock(part, 1, by)
    together, outcomes = threading.Barrier(2), []

    def reserve(job: str) -> None:
        together.wait()
        try:
            stock.reserve(part=part, quantity=Decimal(1), job=job, job_line="", by=by, at=AT, event_id=uuid4())
            outcomes.append("reserved")
        except NotEnoughStock:
            outcomes.append("refused")
        finally:
            connection.close()

    threads = [threading.Thread(target=reserve, args=(job,)) for job in ("2612", "2614")]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()

    assert sorted(outcomes) == ["refused", "reserved"]
    assert Part.objects.get(pk=part.pk).balance.reserved == 1


def test_database_error_is_not_hidden_behind_stock_words(by: Person) -> None:
    part = make_part()
    with pytest.raises((DatabaseError, StockError)):
        stock.receive(
            part=part, quantity=Decimal(10) ** 12, unit_cost=None, reference="", by=by, at=AT, event_id=uuid4()
        )
