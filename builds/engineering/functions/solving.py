"""
The graph of gates as clauses of a solver, and the states it finds in them.

A gate becomes clauses when it is first asked about. Timers are free but for one thing: a timer is only true while what it
watches is. That admits every state a run can reach, and perhaps some that none can; what excludes those is learnt where
it is needed (:mod:`builds.engineering.functions.reachable`).
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from pysat.card import ITotalizer
from pysat.solvers import Glucose4

from builds.engineering.functions.compiled import Leaves
from builds.engineering.functions.gates import TRUE, Gates, Literal, Timer

__all__ = ["State", "StateSpace"]


@dataclass(frozen=True, slots=True)
class State:
    """
    One number of a value per input, and how the timers stand that matter.

    ``done`` have run out. ``young`` have not, although what they watch holds.
    """

    numbers: tuple[int, ...]
    done: tuple[Timer, ...] = ()
    young: tuple[Timer, ...] = ()


class StateSpace:
    """
    Every state in which ``possible`` holds, as clauses. ``solved`` counts the questions asked.

    Only gates and inputs that a question depends on become clauses, so a space opened for one question stays small: most
    of a solver's time goes into giving every variable it knows a value.
    """

    def __init__(self, gates: Gates, leaves: Sequence[Leaves], possible: Literal = TRUE) -> None:
        self.gates = gates
        self.leaves = tuple(leaves)
        self.possible = possible
        self.solved = 0
        self._solver = Glucose4()
        self._variable: dict[int, int] = {}
        self._top = 1
        self._settled = 1  # assumed, it makes every timer done whose condition holds
        self._model: list[int] = []
        self._known_inputs: set[int] = set()
        self._counted: dict[tuple[int, ...], list[int]] = {}
        self.clause([TRUE])
        self.clause([possible])

    @property
    def size(self) -> int:
        """How many variables the solver knows."""
        return self._top

    def close(self) -> None:
        """Give the solver's memory back."""
        self._solver.delete()

    def __enter__(self) -> "StateSpace":
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    # clauses

    def clause(self, literals: Iterable[Literal]) -> None:
        """Hold that one of these is true."""
        self._solver.add_clause([self.variable(literal) for literal in literals])

    def variable(self, literal: Literal) -> int:
        """Return the solver's name of a literal, telling it of the gate if it is new."""
        name = self._variable.get(abs(literal))
        if name is None:
            name = self._tell(abs(literal))
        return name if literal > 0 else -name

    def _tell(self, gate: int) -> int:
        """Give a gate and all it is made of their names and clauses, the innermost first."""
        waiting = [gate]
        while waiting:
            one = waiting[-1]
            timer = self.gates.timers.get(one)
            below = self.gates.made_of[one] if timer is None else (timer.held,)
            unknown = [abs(literal) for literal in below if abs(literal) not in self._variable]
            if unknown:
                waiting += unknown
                continue
            waiting.pop()
            if one not in self._variable:
                self._top += 1
                self._variable[one] = self._top
                self._add(self._top, below, is_timer=timer is not None)
                if not below and self.gates.support[one]:
                    self._meet(self.gates.support[one].bit_length() - 1)
        return self._variable[gate]

    def _add(self, name: int, below: Sequence[Literal], *, is_timer: bool) -> None:
        names = [self._variable[one] if one > 0 else -self._variable[-one] for one in below]
        for variable in names:
            self._solver.add_clause([-name, variable])
        if names:
            unless = [-self._settled] if is_timer else []
            self._solver.add_clause([name, *unless, *(-variable for variable in names)])

    def _meet(self, number: int) -> None:
        """Say of an input met for the first time that it has exactly one value, at rest rather than not."""
        if number in self._known_inputs:
            return
        self._known_inputs.add(number)
        one = self.leaves[number]
        names = [self.variable(literal) for literal in one.literals]
        if self.gates.made_of[one.literals[0]]:
            names = names[1:]  # off is neither on nor lost, which leaves only those two to be kept apart
        else:
            self._solver.add_clause(names)
        for place, name in enumerate(names):
            for later in names[place + 1 :]:
                self._solver.add_clause([-name, -later])
        self._solver.set_phases([self.variable(one.literal(one.rest))])

    # questions

    def some(self, assumed: Iterable[Literal]) -> bool:
        """Whether a state exists in which all of these hold; :meth:`state` then tells it, :meth:`true` its literals."""
        return self._solve([self.variable(literal) for literal in assumed])

    def _solve(self, variables: list[int]) -> bool:
        self.solved += 1
        found = bool(self._solver.solve(assumptions=variables))
        if found:
            self._model = self._solver.get_model() or []
        return found

    def true(self, literal: Literal) -> bool:
        """Whether a literal holds in the state found last."""
        return self._model_has(self.variable(literal))

    def state(self, timers: Iterable[Timer] = (), free: Iterable[int] | None = None) -> State:
        """Return the state found last, with these timers; inputs that are not among ``free`` at rest."""
        read = self._known_inputs if free is None else self._known_inputs.intersection(free)
        numbers = tuple(self._number(one, known=number in read) for number, one in enumerate(self.leaves))
        counting = [timer for timer in timers if self.true(timer.held)]
        done = tuple(timer for timer in counting if self.true(timer.gate))
        return State(numbers, done, tuple(timer for timer in counting if timer not in done))

    def _number(self, one: Leaves, *, known: bool) -> int:
        if known:
            for place, literal in enumerate(one.literals):
                if self.true(literal):
                    return place
        return one.values.index(one.rest)

    def core(self, assumed: Sequence[Literal]) -> list[Literal]:
        """Return those of the assumptions that the last refusal rests on."""
        blamed = set(self._solver.get_core() or ())
        return [literal for literal in assumed if self.variable(literal) in blamed]

    def implied(self, assumed: Iterable[Literal]) -> bool:
        """Whether plain reasoning without search finds no fault with these; False means they cannot all hold."""
        return bool(self._solver.propagate([self.variable(literal) for literal in assumed])[0])

    # smallest

    def smallest(self, wanted: Sequence[Literal]) -> State | None:
        """
        Return the state with fewest inputs away from rest in which all of these hold, None where none does.

        Of equals, the one whose inputs away from rest stand first in the schedule; of those, the one whose values do.
        """
        assumed = [self.variable(literal) for literal in wanted]
        if not self._solve(assumed):
            return None
        free = tuple(self.gates.inputs_of([*wanted, self.possible]))
        away = [-self.variable(self.leaves[number].literal(self.leaves[number].rest)) for number in free]
        assumed += self._fewest(assumed, free, away)
        chosen = [free[place] for place in self._first_inputs(assumed, away)]
        self._first_values(assumed, chosen)
        timers = self.gates.timers_in([*wanted, self.possible])
        if timers:
            self._simplest(assumed, timers)
        return self.state(timers, free)

    def _fewest(self, assumed: list[int], free: tuple[int, ...], away: list[int]) -> list[int]:
        """The assumption that no more inputs are away from rest than have to be; a state with so many is found."""
        most = sum(map(self._model_has, away))
        if not most:
            return [-variable for variable in away]
        more_than = self._counter(free, away, most)
        while (count := sum(map(self._model_has, away))) > 0:
            if not self._solve([*assumed, -more_than[count - 1]]):
                break
        return [-more_than[count]] if count < len(more_than) else []

    def _counter(self, free: tuple[int, ...], away: list[int], most: int) -> list[int]:
        """Variables by n, up to ``most`` at least: true where more than n of these inputs are away from rest."""
        if len(self._counted.get(free, ())) <= most:
            total = ITotalizer(lits=away, ubound=most, top_id=self._top)
            self._solver.append_formula(total.cnf.clauses)
            self._top = max(self._top, total.top_id)
            self._counted[free] = list(total.rhs)
            total.delete()
        return self._counted[free]

    def _first_inputs(self, assumed: list[int], away: list[int]) -> list[int]:
        """Places of the inputs away from rest, each the earliest that can be; ``assumed`` grows by them."""
        chosen: list[int] = []
        place = 0
        while (now := self._next_away(away, place)) is not None:
            while now > place and self._solve([*assumed, self._one_of(away[place:now])]):
                now = self._next_away(away, place) or place
            assumed += [*(-variable for variable in away[place:now]), away[now]]
            chosen.append(now)
            place = now + 1
        return chosen

    def _next_away(self, away: list[int], place: int) -> int | None:
        """The first place from ``place`` on that is away from rest in the state found last."""
        return next((at for at in range(place, len(away)) if self._model_has(away[at])), None)

    def _one_of(self, variables: list[int]) -> int:
        """A variable that, assumed, makes one of these true."""
        if len(variables) == 1:
            return variables[0]
        self._top += 1
        self._solver.add_clause([-self._top, *variables])
        return self._top

    def _first_values(self, assumed: list[int], chosen: Iterable[int]) -> None:
        """Fix every input away from rest at its earliest value that can be."""
        for number in chosen:
            one = self.leaves[number]
            for value, choice in zip(one.values, one.literals, strict=True):
                variable = self.variable(choice)
                if value != one.rest and (self._model_has(variable) or self._solve([*assumed, variable])):
                    assumed.append(variable)
                    break

    def _simplest(self, assumed: list[int], timers: list[Timer]) -> None:
        """Find the state again with all timers done if that can be, else with none done if that can be."""
        if not self._solve([*assumed, self._settled]):
            young = [self.variable(-timer.gate) for timer in timers]
            if not self._solve([*assumed, *young]):
                self._solve(assumed)

    def _model_has(self, variable: int) -> bool:
        place = abs(variable) - 1
        return place < len(self._model) and self._model[place] == variable
