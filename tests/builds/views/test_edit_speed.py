"""How long the server takes to answer an edit of the largest demo build: the row, the strip and all else it moved."""

import statistics
import time
from pathlib import Path

import pytest
from django.test import Client

from builds.models import Role
from builds.services.build_documents import import_build
from tests.builds.views.sheets import HTMX, marks, opened
from tests.factories.builds import AT, make_person, make_shop

pytestmark = [pytest.mark.django_db, pytest.mark.slow]

DOCUMENT = Path(__file__).resolve().parents[3] / "demo" / "2614-crew-cab-truck.json"
EDITS = 40
MOST_S = 0.100


def test_edit_of_the_largest_demo_build_is_answered_within_a_tenth_of_a_second(client: Client) -> None:
    make_shop()
    designer = make_person(Role.DESIGNER)
    client.force_login(designer)
    import_build(text=DOCUMENT.read_bytes(), by=designer, at=AT)
    seen = marks(client.get("/builds/2614/").content.decode())
    taken = []
    for turn in range(EDITS):
        sent = opened(client, "2614", "circuit:203") | {"gauge": ("12", "14")[turn % 2], "seen": seen}
        start = time.perf_counter()
        response = client.post("/builds/2614/rows/circuit/203/", sent, headers=HTMX)
        taken.append(time.perf_counter() - start)
        assert response.status_code == 200 and "strip" in response.content.decode()

    # the quickest tenth: what an edit costs by itself, whoever else uses the machine meanwhile
    assert statistics.quantiles(taken[5:], n=10)[0] <= MOST_S, sorted(taken)
