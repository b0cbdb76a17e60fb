"""Customers, and the rules their builds follow."""

from django.db.models import Count, Q
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from builds.engineering.buyer_rules import RULES
from builds.errors import BuildError, NotHere
from builds.forms.customers import CustomerForm, DropRuleForm, RuleForm
from builds.models import BuyerProfile, Customer, Stage
from builds.permissions import Action, check_may, may
from builds.selectors.figure_words import rule_value
from builds.selectors.profile_rules import drop_rule_rows, rule_rows
from builds.services import buyer_profiles, customers
from builds.views.acting import person_who_may
from builds.views.responses import add_errors
from builds.views.sent import sent_values

__all__ = [
    "customer_add",
    "customer_detail",
    "customer_list",
    "drop_rule_clear",
    "drop_rule_edit",
    "profile_detail",
    "rule_clear",
    "rule_edit",
]


@require_GET
def customer_list(request: HttpRequest) -> HttpResponse:
    """Show every customer with their profile and open builds."""
    check_may(request.user, Action.SEE_BUILDS)
    done = (Stage.CLOSED, Stage.CANCELLED)
    rows = Customer.objects.select_related("profile").annotate(
        open_builds=Count("builds", filter=~Q(builds__stage__in=done))
    )
    words = request.GET.get("q", "").replace("\x00", "").strip()[:80]
    if words:
        rows = rows.filter(name__icontains=words)
    context = {"customers": rows[:200], "words": words, "may_edit": may(request.user, Action.EDIT_CUSTOMER)}
    return render(request, "builds/customer_list.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
def customer_add(request: HttpRequest) -> HttpResponse:
    """Write down a customer."""
    person = person_who_may(request, Action.EDIT_CUSTOMER)
    form = CustomerForm(sent_values(request))
    if request.method == "POST" and form.is_valid():
        try:
            customer = customers.add_customer(
                values=form.texts(), profile=form.cleaned_data["profile"], by=person, at=timezone.now()
            )
        except BuildError as error:
            add_errors(form, error)
        else:
            return redirect(customer)
    context = {"form": form, "title": "Add customer", "back": "/customers/", "back_word": "Customers"}
    return render(request, "builds/form_page.html", context, status=422 if form.errors else 200)


@require_http_methods(["GET", "HEAD", "POST"])
def customer_detail(request: HttpRequest, pk: int) -> HttpResponse:
    """Show a customer with their builds; those who may change what is known of them."""
    check_may(request.user, Action.SEE_BUILDS)
    customer = get_object_or_404(Customer.objects.select_related("profile"), pk=pk)
    sent = request.POST if request.method == "POST" else None
    form = CustomerForm(
        sent, initial={name: getattr(customer, name) for name in CustomerForm.TEXTS} | {"profile": customer.profile}
    )
    if sent is not None:
        person = person_who_may(request, Action.EDIT_CUSTOMER)
        if form.is_valid():
            try:
                customers.change_customer(
                    customer=customer, values=form.texts(), profile=form.cleaned_data["profile"],
                    row_version=_number(request, "row_version"), by=person,
                )  # fmt: skip
            except BuildError as error:
                add_errors(form, error)
            else:
                return redirect(customer)
    context = {
        "customer": customer,
        "form": form,
        "builds": customer.builds.select_related("vehicle").order_by("-opened_at")[:50],
        "may_edit": may(request.user, Action.EDIT_CUSTOMER),
    }
    return render(request, "builds/customer_detail.html", context, status=422 if form.errors else 200)


@require_GET
def profile_detail(request: HttpRequest, pk: int) -> HttpResponse:
    """Show the rules of a profile: each with value, unit and source, its own or the shop's default."""
    check_may(request.user, Action.SEE_BUILDS)
    profile = get_object_or_404(BuyerProfile, pk=pk)
    context = {
        "profile": profile,
        "rules": rule_rows(profile),
        "drop_rules": drop_rule_rows(profile),
        "customers": profile.customers.all()[:50],
        "may_edit": may(request.user, Action.EDIT_CUSTOMER),
    }
    return render(request, "builds/customer_profile.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
def rule_edit(request: HttpRequest, pk: int, key: str) -> HttpResponse:
    """Give a profile its own value of a rule."""
    person = person_who_may(request, Action.EDIT_CUSTOMER)
    profile = get_object_or_404(BuyerProfile, pk=pk)
    if key not in RULES:
        raise NotHere(f"The catalogue has no rule {key!r}.")
    own = profile.rules.filter(key=key).first()
    form = RuleForm(RULES[key], own, request.POST if request.method == "POST" else None)
    if request.method == "POST" and form.is_valid():
        try:
            buyer_profiles.set_rule(
                profile=profile, key=key, value=form.cleaned_data["value"], source=form.cleaned_data["source"],
                row_version=_number(request, "row_version"), by=person, at=timezone.now(),
            )  # fmt: skip
        except BuildError as error:
            add_errors(form, _said(error))
        else:
            return redirect("profile-detail", pk=pk)
    context = {
        "form": form,
        "title": RULES[key].name,
        "why": f"The shop's default is {_default(key)}: {RULES[key].source}.",
        "word": "Keep",
        "hidden": {"row_version": own.row_version if own else 0},
        **_back(profile),
    }
    return render(request, "builds/form_page.html", context, status=422 if form.errors else 200)


def _default(key: str) -> str:
    return rule_value(RULES[key].default, RULES[key].unit)


def _said(error: BuildError) -> BuildError:
    """A stale rule says both values in one sentence, at the value."""
    theirs = error.fields.get("value")
    if error.status == 409 and theirs:
        return BuildError(
            error.message, fields={"value": f"{error.message} It is {theirs} now; keep again to set yours."}
        )
    return error


@require_POST
def rule_clear(request: HttpRequest, pk: int, key: str) -> HttpResponse:
    """Let the shop's default hold again."""
    person = person_who_may(request, Action.EDIT_CUSTOMER)
    profile = get_object_or_404(BuyerProfile, pk=pk)
    buyer_profiles.clear_rule(
        profile=profile, key=key, row_version=_number(request, "row_version"), by=person, at=timezone.now()
    )
    return redirect("profile-detail", pk=pk)


@require_http_methods(["GET", "HEAD", "POST"])
def drop_rule_edit(request: HttpRequest, pk: int) -> HttpResponse:
    """Set the limit of a class of loads; ``?key=`` opens one that is there."""
    person = person_who_may(request, Action.EDIT_CUSTOMER)
    profile = get_object_or_404(BuyerProfile, pk=pk)
    key = request.GET.get("key", "")
    row = next((item for item in drop_rule_rows(profile) if item.key == key), None)
    form = DropRuleForm(row, request.POST if request.method == "POST" else None)
    if request.method == "POST" and form.is_valid():
        try:
            buyer_profiles.set_drop_rule(
                profile=profile, key=key, row_version=_number(request, "row_version"), by=person, at=timezone.now(),
                **form.cleaned_data,
            )  # fmt: skip
        except BuildError as error:
            add_errors(form, BuildError(error.message, fields=error.fields if error.status == 422 else {}))
        else:
            return redirect("profile-detail", pk=pk)
    context = {
        "form": form,
        "title": f"Drop rule for {row.who}" if row else "Add drop rule",
        "why": "Counted from the battery post to the load and back, if nothing else is said. With a place or a condition it holds beside the rule of the load's class.",
        "word": "Keep",
        "hidden": {"row_version": row.row_version if row else 0},
        **_back(profile),
    }
    return render(request, "builds/form_page.html", context, status=422 if form.errors else 200)


@require_POST
def drop_rule_clear(request: HttpRequest, pk: int) -> HttpResponse:
    """Take a drop rule away."""
    person = person_who_may(request, Action.EDIT_CUSTOMER)
    profile = get_object_or_404(BuyerProfile, pk=pk)
    buyer_profiles.clear_drop_rule(
        profile=profile, key=request.POST.get("key", ""), row_version=_number(request, "row_version"), by=person,
        at=timezone.now(),
    )  # fmt: skip
    return redirect("profile-detail", pk=pk)


def _back(profile: BuyerProfile) -> dict[str, str]:
    return {"back": f"/profiles/{profile.pk}/", "back_word": f"Rules of {profile}"}


def _number(request: HttpRequest, name: str) -> int:
    text = request.POST.get(name, "")
    return int(text) if text.isdecimal() and len(text) < 10 else 0
