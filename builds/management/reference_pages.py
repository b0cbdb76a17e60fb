"""Reference pages made from the tables of the code: the life of a build, who may do what, what buyers may ask."""

from builds.engineering.buyer_rules import DEFAULT_DROP_RULES, RULES
from builds.models import Role
from builds.models.stage import GUARDS, TRANSITIONS, Stage
from builds.permissions import TABLE, Relation

__all__ = ["buyer_rules_page", "permissions_page", "stages_page"]

_MADE = "<!-- Made from the code by `python3 manage.py gendocs`; edit the code. -->\n"


def stages_page(_: str) -> str:
    """Return the page of stages, moves and guards."""
    lines = ["# The life of a build", "", _MADE, "```mermaid", "stateDiagram-v2", f"    [*] --> {Stage.INTAKE}"]
    lines += [f"    {a} --> {b}" for a, b in TRANSITIONS]
    lines += [f"    {Stage.CLOSED} --> [*]", f"    {Stage.CANCELLED} --> [*]", "```", ""]
    lines += [
        "*On hold* is a flag beside the stage, with a reason and who must act; it stops every move but cancelling.",
        "",
        "| from | to | what must be true |",
        "|---|---|---|",
    ]
    lines += [
        f"| {a.label} | {b.label} | {' '.join(GUARDS[guard] for guard in guards)} |"
        for (a, b), guards in TRANSITIONS.items()
    ]
    return "\n".join(lines) + "\n"


def permissions_page(_: str) -> str:
    """Return the page of actions by role."""
    roles = list(Role)
    lines = ["# Who may do what", "", _MADE]
    lines += ["*own*: only what is one's own. Customers have no account; what their link shows is theirs alone.", ""]
    lines += ["| | " + " | ".join(role.label for role in roles) + " |", "|---|" + "---|" * len(roles)]
    for action, rights in TABLE.items():
        cells = [_right(role, rights) for role in roles]
        lines.append(f"| {action} | " + " | ".join(cells) + " |")
    return "\n".join(lines) + "\n"


def _right(role: Role, rights: frozenset[tuple[Role, Relation]]) -> str:
    if (role, Relation.ANY) in rights:
        return "yes"
    return "own" if (role, Relation.OWN) in rights else ""


def buyer_rules_page(_: str) -> str:
    """Return the catalogue of buyer rules with defaults and sources."""
    lines = ["# What a buyer may ask", "", _MADE]
    lines += ["A rule is a value on the buyer's profile; where the profile says nothing the default holds.", ""]
    lines += ["| rule | meaning | default | unit | where the default comes from |", "|---|---|---|---|---|"]
    lines += [
        f"| `{rule.key}` | {rule.name} | {rule.default} | {rule.unit} | {rule.source} |" for rule in RULES.values()
    ]
    lines += ["", "## Drop rules", "", "Used where a profile names none of its own.", ""]
    lines += ["| rule | loads | limit | of | at | conductor | source |", "|---|---|---|---|---|---|---|"]
    lines += [
        f"| `{rule.key}` | {rule.drop_class} | {100 * rule.limit_ratio:.2f} % | {rule.base_v:g} V | {rule.current} current "
        f"| {rule.conductor_temp_c:g} °C | {rule.source} |"
        for rule in DEFAULT_DROP_RULES
    ]
    return "\n".join(lines) + "\n"
