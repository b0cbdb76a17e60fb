"""
Which guard each table has; a test walks all models and fails on one that is in no list.

History is written for rows that change. Append-only tables are their own history: no row of theirs is ever changed or
removed. Derived tables are written by a trigger or a worker and hold nothing that is not told elsewhere.
"""

__all__ = ["APPEND_ONLY", "DERIVED", "FRAMEWORK", "HISTORY"]

HISTORY: tuple[str, ...] = (
    "builds_accesspoint",
    "builds_bay",
    "builds_bayplace",
    "builds_bodypenetration",
    "builds_booking",
    "builds_build",
    "builds_buyerprofile",
    "builds_buyerrule",
    "builds_checkliststep",
    "builds_checkliststep_covers",
    "builds_circuit",
    "builds_customer",
    "builds_customergear",
    "builds_customerlink",
    "builds_droprule",
    "builds_dutyprofile",
    "builds_dutysegment",
    "builds_functionschedule",
    "builds_load",
    "builds_loadedfile",
    "builds_loaduse",
    "builds_nomountzone",
    "builds_occupancy",
    "builds_operatingcondition",
    "builds_operation",
    "builds_packetissue",
    "builds_partsbillline",
    "builds_person",
    "builds_person_groups",
    "builds_person_user_permissions",
    "builds_platformversion",
    "builds_powernode",
    "builds_removedpart",
    "builds_route",
    "builds_run",
    "builds_seatplace",
    "builds_serialnumber",
    "builds_shedstep",
    "builds_shop",
    "builds_splice",
    "builds_timeentry",
    "builds_vehicle",
    "builds_zone",
    "inventory_part",
    "inventory_supplier",
)

APPEND_ONLY: tuple[str, ...] = (
    "builds_acceptance",
    "builds_authorisation",
    "builds_checkin",
    "builds_editbatch",
    "builds_editentry",
    "builds_findingoverride",
    "builds_frozendocument",
    "builds_holdsignature",
    "builds_keyevent",
    "builds_locationevent",
    "builds_photo",
    "builds_revision",
    "builds_stagechange",
    "builds_storedfile",
    "builds_tick",
    "inventory_stockentry",
)

# Readable by the application, written only by triggers.
DERIVED: tuple[str, ...] = ("builds_buildmatch", "builds_historyentry", "inventory_stockbalance")

# Sessions, sign-in attempts and the like: the framework's own, without history.
FRAMEWORK: tuple[str, ...] = ("auth_", "axes_", "django_")
