"""
Whose name PostgreSQL runs under.

The server refuses to run as root. Started by root it runs under an account without rights of its
own; where that account cannot reach the folders (a checkout below /root), it runs in a user
namespace in which root is mapped to such an account. A cluster that exists already was made one way
or the other, and its owner decides: never a new guess.
"""

from __future__ import annotations

import ctypes
import os
import pwd
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path

from config.embedded.plain_errors import PlainError

CLONE_NEWUSER = 0x10000000
UNPRIVILEGED_UID = 65534
PREFERRED_ACCOUNTS = ("postgres", "nobody")
_libc = ctypes.CDLL(None, use_errno=True)


@dataclass(frozen=True, slots=True, kw_only=True)
class ServerAccount:
    """The account a database server runs under: its files' owner, and how a child becomes it."""

    uid: int
    gid: int
    become: Callable[[], None] | None

    def own(self, path: Path) -> None:
        """Give `path` to this account."""
        if (path.stat().st_uid, path.stat().st_gid) != (self.uid, self.gid):
            os.chown(path, self.uid, self.gid)


def choose_account(*, cluster: Path, must_reach: Iterable[Path]) -> ServerAccount:
    """
    Return the account for the cluster folder `cluster`, which may not exist yet.

    `must_reach` are the programs the server runs; its account has to get at them and at the folder
    that holds the cluster.
    """
    if os.geteuid() != 0:
        return ServerAccount(uid=os.geteuid(), gid=os.getegid(), become=None)
    if cluster.exists():
        owner = cluster.stat()
        if owner.st_uid == 0:
            return _namespace_account()
        return _plain_account(owner.st_uid, owner.st_gid)
    needed = [cluster.parent, *must_reach]
    for name in PREFERRED_ACCOUNTS:
        entry = _account_entry(name)
        if entry and _can_reach(entry, needed):
            return _plain_account(entry.pw_uid, entry.pw_gid)
    return _namespace_account()


def _account_entry(name: str) -> pwd.struct_passwd | None:
    try:
        return pwd.getpwnam(name)
    except KeyError:
        return None


def _plain_account(uid: int, gid: int) -> ServerAccount:
    def become() -> None:
        os.setgroups([])
        os.setgid(gid)
        os.setuid(uid)

    return ServerAccount(uid=uid, gid=gid, become=become)


def _namespace_account() -> ServerAccount:
    def become() -> None:
        if _libc.unshare(CLONE_NEWUSER) != 0:
            raise OSError(ctypes.get_errno(), "user namespaces are switched off")
        Path("/proc/self/setgroups").write_text("deny")
        Path("/proc/self/uid_map").write_text(f"{UNPRIVILEGED_UID} 0 1")
        Path("/proc/self/gid_map").write_text(f"{UNPRIVILEGED_UID} 0 1")

    if not _works_in_a_child(become):
        raise PlainError(
            "PostgreSQL does not run as root, no unprivileged account can reach this folder, and "
            "this machine does not allow user namespaces. Run Baywright as an ordinary user, "
            "or move the checkout to a folder that others may enter."
        )
    return ServerAccount(uid=0, gid=0, become=become)


def _can_reach(entry: pwd.struct_passwd, paths: Iterable[Path]) -> bool:
    account = _plain_account(entry.pw_uid, entry.pw_gid)

    def look() -> None:
        assert account.become is not None
        account.become()
        for path in paths:
            if not os.access(path, os.X_OK):
                raise PermissionError(path)

    return _works_in_a_child(look)


def _works_in_a_child(action: Callable[[], None]) -> bool:
    """Return whether `action` succeeds in a forked process, which is thrown away afterwards."""
    pid = os.fork()
    if pid == 0:
        try:
            action()
        except BaseException:  # noqa: BLE001  (the exit status is the answer)
            os._exit(1)
        os._exit(0)
    return os.waitpid(pid, 0)[1] == 0
