"""Who works at the demo shop; invented, and with a password that is printed, so never for a real one."""

from dataclasses import dataclass
from datetime import datetime

from django.contrib.auth.hashers import make_password

from builds.models import Person, Role

__all__ = ["DEMO_PASSWORD", "SIGN_INS", "SignIn", "demo_people"]

DEMO_PASSWORD = "tern-point-demo"  # noqa: S105  printed at every start


@dataclass(frozen=True, slots=True)
class SignIn:
    """One person of the demo shop."""

    username: str
    short_name: str
    role: Role


SIGN_INS: tuple[SignIn, ...] = (
    SignIn("writer", "A. Quill", Role.SERVICE_WRITER),
    SignIn("designer", "M. Vale", Role.DESIGNER),
    SignIn("parts", "J. Birch", Role.PARTS_CLERK),
    SignIn("technician", "L. Tamm", Role.TECHNICIAN),
    SignIn("inspector", "R. Dace", Role.INSPECTOR),
    SignIn("manager", "S. Brandt", Role.MANAGER),
    SignIn("technician-2", "C. Okoro", Role.TECHNICIAN),
)


def demo_people(at: datetime) -> dict[str, Person]:
    """Return the people by sign-in name, put in where they are missing."""
    known = {
        person.username: person for person in Person.objects.filter(username__in=[who.username for who in SIGN_INS])
    }
    if len(known) < len(SIGN_INS):
        password = make_password(DEMO_PASSWORD)
        for who in SIGN_INS:
            if who.username not in known:
                known[who.username] = Person.objects.create(
                    username=who.username, short_name=who.short_name, role=who.role, password=password, date_joined=at
                )
    return known
