"""The desk: sign-in, the job list, a build's sheet and what is edited on it, customers and their rules."""

from django.urls import path
from django.views.generic import RedirectView

from builds.views import (
    build_open,
    build_sheet,
    builds,
    changes,
    condition_loads,
    customers,
    design_rows,
    design_table,
    power_tree,
    registers,
    sign_in,
    sizing,
)

__all__ = ["urlpatterns"]

_BUILD = "builds/<str:number>/"

urlpatterns = [
    path("", RedirectView.as_view(pattern_name="build-list", http_method_names=["get", "head"]), name="home"),
    path("sign-in/", sign_in.sign_in, name="sign-in"),
    path("sign-out/", sign_in.sign_out, name="sign-out"),
    path("builds/", builds.build_list, name="build-list"),
    path("builds/open/", build_open.build_open, name="build-open"),
    path("builds/open/vin/", build_open.vin_check, name="vin-check"),
    path("builds/open/vehicles/", build_open.vehicles_of_customer, name="vehicles-of-customer"),
    path(_BUILD, build_sheet.build_detail, name="build-detail"),
    path(f"{_BUILD}live/", build_sheet.build_live, name="build-live"),
    path(f"{_BUILD}version/", build_sheet.build_version, name="build-version"),
    path(f"{_BUILD}drawings/", build_sheet.build_drawings, name="build-drawings"),
    path(f"{_BUILD}document/", build_sheet.build_document, name="build-document"),
    path(f"{_BUILD}facts/", build_open.build_facts, name="build-facts"),
    path(f"{_BUILD}undo/", design_rows.undo_last, name="build-undo"),
    path(f"{_BUILD}fix/", design_rows.apply_fix, name="build-fix"),
    path(f"{_BUILD}rows/<str:family>/", design_rows.row_add, name="row-add"),
    path(f"{_BUILD}rows/<str:family>/<path:key>/", design_rows.row_edit, name="row-edit"),
    path(f"{_BUILD}row-preview/<str:family>/<path:key>/", design_rows.row_preview, name="row-preview"),
    path(f"{_BUILD}row-remove/<str:family>/<path:key>/", design_rows.row_remove, name="row-remove"),
    path(f"{_BUILD}table/<str:family>/", design_table.design_table, name="design-table"),
    path(f"{_BUILD}table/<str:family>/cells/", design_table.table_cells, name="table-cells"),
    path(f"{_BUILD}tree/", power_tree.power_tree, name="power-tree"),
    path(f"{_BUILD}tree/change/", power_tree.tree_change, name="tree-change"),
    path(f"{_BUILD}tree/preview/", power_tree.tree_preview, name="tree-preview"),
    path(f"{_BUILD}tree/undo/", power_tree.tree_undo, name="tree-undo"),
    path(f"{_BUILD}loads-on/<path:key>/", condition_loads.condition_loads, name="condition-loads"),
    path(f"{_BUILD}sizes/", sizing.build_sizes, name="build-sizes"),
    path(f"{_BUILD}override/", changes.build_override, name="build-override"),
    path(f"{_BUILD}history/", changes.build_history, name="build-history"),
    path(f"{_BUILD}stages/", changes.build_stages, name="build-stages"),
    path(f"{_BUILD}move/", changes.build_move, name="build-move"),
    path(f"{_BUILD}hold/", changes.build_hold, name="build-hold"),
    path(f"{_BUILD}hold/lift/", changes.build_lift_hold, name="build-lift-hold"),
    path(f"{_BUILD}release/", changes.build_release, name="build-release"),
    path(f"{_BUILD}revisions/<str:letter>/authorise/", changes.revision_authorise, name="revision-authorise"),
    path(f"{_BUILD}registers/<str:register>/add/", registers.register_add, name="register-add"),
    path(f"{_BUILD}registers/serial/<int:pk>/swap/", registers.register_swap, name="register-swap"),
    path(f"{_BUILD}registers/penetration/<int:pk>/seal/", registers.register_seal, name="register-seal"),
    path(f"{_BUILD}registers/gear/<int:pk>/receive/", registers.register_receive, name="register-receive"),
    path("customers/", customers.customer_list, name="customer-list"),
    path("customers/add/", customers.customer_add, name="customer-add"),
    path("customers/<int:pk>/", customers.customer_detail, name="customer-detail"),
    path("profiles/<int:pk>/", customers.profile_detail, name="profile-detail"),
    path("profiles/<int:pk>/rules/<str:key>/", customers.rule_edit, name="rule-edit"),
    path("profiles/<int:pk>/rules/<str:key>/clear/", customers.rule_clear, name="rule-clear"),
    path("profiles/<int:pk>/drop-rules/", customers.drop_rule_edit, name="drop-rule-edit"),
    path("profiles/<int:pk>/drop-rules/clear/", customers.drop_rule_clear, name="drop-rule-clear"),
]
