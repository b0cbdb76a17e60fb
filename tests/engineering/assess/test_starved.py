"""A constant-power load over a wire far too thin takes more the further it sinks: what is chosen for it ends that first."""

from builds.engineering.assess import assess
from builds.engineering.changes import apply_changes
from builds.engineering.proposing import changes_of, propose
from builds.engineering.vocabulary import LoadModel
from tests.engineering.assess.designs import SOUND, changed

# 16 A at 13.6 V are 218 W; 14 gauge over 9 m leaves 11 V, and it takes 19.8 A there
STARVED = changed(
    changed(SOUND, "circuit", "101", gauge="14", length_m=9.0, device_rating_a=20.0),
    "load", "BAR", model=LoadModel.CONSTANT_POWER, current_a=16.0, at_v=13.6, min_v=0.0, quantity=1, can_be_steady=True,
)  # fmt: skip


def test_the_repair_of_a_starved_circuits_device_is_for_what_it_takes_once_fed() -> None:
    (finding,) = (item for item in assess(STARVED).findings if item.id == "device-below-load")
    assert finding.fix is not None

    after = apply_changes(STARVED, finding.fix.changes)

    assert {change.field for change in finding.fix.changes} >= {"gauge"}
    assert {item.id for item in assess(after).findings if item.subject == "circuit:101"}.isdisjoint(
        {"device-below-load", "device-loading-exceeded", "drop-over-limit", "device-above-conductor"}
    )
    chosen = {change.field: change.value for change in finding.fix.changes}
    proposed = {
        change.field: change.value for change in changes_of(propose(STARVED)) if change.subject == "circuit:101"
    }
    assert chosen.get("device_rating_a") == proposed.get("device_rating_a")
