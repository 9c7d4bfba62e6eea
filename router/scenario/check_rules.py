"""Cross checks on system, rules and weights."""

from __future__ import annotations

from typing import TYPE_CHECKING

from router.scenario.errors import Fault, Path, number_text, value_text
from router.trade.styles import STYLES
from router.trade.tables import Tables

if TYPE_CHECKING:
    from collections.abc import Iterator

    from router.scenario.view import View

_POSITIVE = (
    "reach",
    "station_step",
    "arm_unsupported",
    "hanger_spacing",
    "hanger_to_end",
    "hose_bend_radius",
)
_NOT_NEGATIVE = (
    "clearance",
    "piece_clearance",
    "ceiling_clearance",
    "working_allowance",
    "alignment",
    "slide",
    "rise",
    "outlet_spacing",
    "saw_cut",
)
_LISTS = ("hose_lengths", "stock_lengths")


def system_pitch(view: View) -> Iterator[Fault]:
    """Check that runs are level or rise away from their supply."""
    system = view.scenario.system
    for name in ("pitch_branch", "pitch_main"):
        value = getattr(system, name)
        if value is not None and not 0 <= value <= 100:
            message = "0 to 100 mm per m expected, rising away from the supply"
            yield view.fault(("system", name), "system", number_text(value), "mm/m", message)


def rule_values(view: View) -> Iterator[Fault]:
    """Check that rule values have a sensible sign."""
    rules = view.scenario.rules
    for name in _POSITIVE:
        value = getattr(rules, name)
        if value is not None and value <= 0:
            yield view.fault(("rules", name), "rules", number_text(value), "mm", "more than 0 expected")
    for name in _NOT_NEGATIVE:
        value = getattr(rules, name)
        if value is not None and value < 0:
            yield view.fault(("rules", name), "rules", number_text(value), "mm", "0 or more expected")
    if not 0 <= rules.square_tolerance_deg <= 45:
        yield view.fault(
            ("rules", "square_tolerance_deg"),
            "rules",
            number_text(rules.square_tolerance_deg),
            "deg",
            "0 to 45 expected",
        )
    for name in _LISTS:
        lengths = getattr(rules, name)
        for k, value in enumerate(lengths or []):
            if value <= 0:
                place: Path = ("rules", name, k)
                yield view.fault(place, "rules", number_text(value), "mm", "more than 0 expected")
        if lengths == []:
            yield view.fault(("rules", name), "rules", "[]", "mm", "at least one length, or leave it out")
    if rules.hose_max_bends is not None and rules.hose_max_bends < 0:
        yield view.fault(
            ("rules", "hose_max_bends"), "rules", str(rules.hose_max_bends), "bends", "0 or more expected"
        )


def made_sizes(view: View) -> Iterator[Fault]:
    """Check that the standard's pipe is made in every size given."""
    scenario = view.scenario
    made = Tables(standard=scenario.system.standard).sizes
    message = f"no {scenario.system.standard} pipe is made in it; DN {', '.join(map(str, made))}"
    sizes: list[tuple[Path, str, int | str]] = [(("rules", "arm_size"), "rules", scenario.rules.arm_size)]
    sizes += [
        (("heads", i, "thread"), f"head {head.id}", head.thread) for i, head in enumerate(scenario.heads)
    ]
    for i, run in enumerate(scenario.runs):
        sizes += [(("runs", i, "size"), f"run {run.id}", run.size)]
        sizes += [(("runs", i, "least_size"), f"run {run.id}", run.least_size or "schedule")]
    for place, item, size in sizes:
        if isinstance(size, int) and size not in made:
            yield view.fault(place, item, f"DN{size}", "", message)


def rule_styles(view: View) -> Iterator[Fault]:
    """Check that the styles that the rules name exist."""
    styles = view.scenario.rules.styles
    if styles is None:
        return
    if not styles:
        yield view.fault(("rules", "styles"), "rules", "[]", "", f"at least one of {', '.join(STYLES)}")
    for k, style in enumerate(styles):
        if style not in STYLES:
            yield view.fault(("rules", "styles", k), "rules", value_text(style), "", styles_are())


def styles_are() -> str:
    """Say which styles there are.

    Returns
    -------
    str
    """
    return f"no such style; styles are {', '.join(STYLES)}"


def rule_tables(view: View) -> Iterator[Fault]:
    """Check that overrides name tables and keys that exist."""
    overrides = view.scenario.rules.tables
    for name, value in overrides.items():
        try:
            Tables(standard=view.scenario.system.standard, overrides={name: value})
        except (ValueError, TypeError, KeyError) as error:
            text = str(error.args[0]) if error.args else str(error)
            yield view.fault(("rules", "tables", name), "rules", value_text(value), "", text)


def weight_values(view: View) -> Iterator[Fault]:
    """Check that weights are not negative."""
    weights = view.scenario.weights
    for name in type(weights).model_fields:
        value = getattr(weights, name)
        if value is not None and value < 0:
            message = "0 or more expected (points)"
            yield view.fault(("weights", name), "weights", number_text(value), "points", message)


CHECKS = (
    system_pitch,
    rule_values,
    made_sizes,
    rule_styles,
    rule_tables,
    weight_values,
)
