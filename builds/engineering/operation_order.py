"""The order of the work: each operation after what it waits for, and the operations that wait for one another."""

from builds.engineering.design import Operation
from builds.engineering.vocabulary import Phase

__all__ = ["waiting_rings", "working_order"]

_PHASES = tuple(Phase)


def working_order(operations: tuple[Operation, ...]) -> tuple[Operation, ...]:
    """
    Return operations by phase, each after what it waits for.

    Ties keep the given order. An operation that waits for one of a later phase comes after it; those that wait for one
    another keep the given order among themselves.

    Examples
    --------
    >>> working_order(())
    ()
    """
    waiting = sorted(operations, key=lambda operation: _PHASES.index(operation.phase))
    known = {operation.key for operation in operations}
    placed: dict[str, Operation] = {}
    while waiting:
        ready = (o for o in waiting if all(key in placed or key not in known for key in o.after))
        chosen = next(ready, waiting[0])
        waiting.remove(chosen)
        placed[chosen.key] = chosen
    return tuple(placed.values())


def waiting_rings(operations: tuple[Operation, ...]) -> tuple[tuple[str, ...], ...]:
    """
    Return the rings of operations that wait for one another, each as its keys in the order of waiting.

    Every operation is in at most one of the rings returned; breaking each of them may show another.
    """
    after = {operation.key: operation.after for operation in operations}
    done: set[str] = set()
    rings: list[tuple[str, ...]] = []
    for start in after:
        path: list[str] = []
        _walk(start, after, path, done, rings)
    return tuple(rings)


def _walk(
    key: str, after: dict[str, tuple[str, ...]], path: list[str], done: set[str], rings: list[tuple[str, ...]]
) -> None:
    """Go down what ``key`` waits for, one branch at a time, without recursion: chains of work can be long."""
    stack = [(key, iter(after[key]))] if key not in done else []
    path.extend(name for name, _ in stack)
    while stack:
        here, waits = stack[-1]
        there = next((name for name in waits if name in after), None)
        if there is None:
            stack.pop()
            path.pop()
            done.add(here)
        elif there in path:
            ring = tuple(path[path.index(there) :])
            if not done.intersection(ring):
                rings.append(ring)
                done.update(ring)
        elif there not in done:
            stack.append((there, iter(after[there])))
            path.append(there)
