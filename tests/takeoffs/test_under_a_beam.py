"""A high line over a beam: the arm goes under the beam that its drop would meet."""

from router.building.route import route_scenario
from router.check import check_route
from router.scenario import parse_scenario


def test_the_arm_of_a_high_line_goes_under_the_beam_over_the_head() -> None:
    """Line at 3,700; a beam 3,450-3,560 stands over the head: no arm above it can drop to the head."""
    beam = [[1900, 300], [2100, 300], [2100, 900], [1900, 900]]
    scenario = parse_scenario(
        {
            "name": "under a beam",
            "runs": [
                {"id": "B", "plan": [[0, 0], [4000, 0]], "size": 25, "elevation": 3700, "band": [3700, 3700]}
            ],
            "heads": [{"id": "H1", "at": [2000, 600, 3000]}],
            "obstructions": [{"id": "G", "polygon": beam, "elevations": [3450, 3560]}],
        },
        "under a beam",
    )
    route, _ = route_scenario(scenario)
    assert check_route(scenario, route).clean
    assert [h.style for h in route.heads] == ["lowered_arm"]
    assert route.takeoffs[0].arm_level is not None
    # least: the beam's underside less clearance 25 and half a 1 in. pipe, 33.4 mm (ASME B36.10M)
    assert abs(route.takeoffs[0].arm_level - (3450 - 25 - 33.4 / 2)) < 0.1
