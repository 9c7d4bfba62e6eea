"""A search that is running ends when somebody asks for it, not at its time limit."""

from __future__ import annotations

from ortools.sat.python import cp_model

from router.model.choice import _watched

LIMIT_S = 300.0


def pigeons(count: int) -> cp_model.CpModel:
    """So many pigeons in a hole less, in plain clauses: no search is through with it in a lifetime."""
    model = cp_model.CpModel()
    at = [[model.new_bool_var(f"{p} in {h}") for h in range(count - 1)] for p in range(count)]
    for row in at:
        model.add_bool_or(row)
    for h in range(count - 1):
        for p in range(count):
            for q in range(p):
                model.add_bool_or([at[p][h].negated(), at[q][h].negated()])
    return model


def test_a_running_search_hears_of_a_stop() -> None:
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.cp_model_presolve = False
    solver.parameters.linearization_level = 0
    solver.parameters.symmetry_level = 0
    solver.parameters.max_time_in_seconds = LIMIT_S
    looks = []

    def stop() -> bool:
        looks.append(1)
        return len(looks) > 5

    with _watched(solver, stop):
        status = solver.solve(pigeons(14))
    assert status == cp_model.UNKNOWN
    assert len(looks) > 5
    assert solver.wall_time < LIMIT_S / 2


def test_nobody_watches_where_nothing_can_stop_it() -> None:
    solver = cp_model.CpSolver()
    with _watched(solver, None):
        assert solver.solve(pigeons(3)) == cp_model.INFEASIBLE
