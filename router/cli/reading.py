"""Commands that read: a scenario, its schema, tables, a person's drawing."""

import sys
from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer
from rich.text import Text

from router.cli.app import ScenarioFile, app
from router.deliver.any_route import read_any_route
from router.deliver.ending import (
    console,
    guarded,
)
from router.deliver.files import check_output, save
from router.deliver.route_json import write_route
from router.deliver.schemas import SCHEMAS
from router.deliver.tables import scenario_table
from router.scenario import notes, read_scenario, schema_text


class SchemaOf(StrEnum):
    """Which file a schema is wanted of."""

    scenario = "scenario"
    route = "route"
    verdict = "verdict"
    changes = "changes"
    comparison = "comparison"
    alternatives = "alternatives"
    reasons = "reasons"
    times = "times"
    model_mapping = "model-mapping"
    drawing_mapping = "drawing-mapping"
    columns = "columns"


@app.command()
@guarded("validate")
def validate(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="Scenario file, JSON or YAML.")],
) -> None:
    """Read a scenario and name every fault in it: place, line, value and unit."""
    scenario = read_scenario(file)
    out = console()
    out.print(Text(f"{file}: no fault. {scenario.name}"), soft_wrap=True)
    out.print(scenario_table(scenario))
    for note in notes(scenario):
        out.print(Text(f"note: {note}", style="yellow"), soft_wrap=True)


@app.command()
@guarded("print the schema")
def schema(
    of: Annotated[
        SchemaOf,
        typer.Argument(metavar="[NAME]", help=f"Which file: {', '.join(kind.value for kind in SchemaOf)}."),
    ] = SchemaOf.scenario,
    output: Annotated[Path | None, typer.Option("-o", "--output", help="Write it here (.json).")] = None,
) -> None:
    """Print the JSON Schema of a file of ours, by default of the scenario."""
    text = schema_text(SCHEMAS[of.value]())
    if output is None:
        sys.stdout.write(text)
        return
    check_output(output, (".json",))
    save(output, text)


@app.command()
@guarded("infer")
def infer(
    scenario_file: ScenarioFile,
    drawing: Annotated[Path, typer.Argument(metavar="DRAWING", help="Table of straight pipes (.csv), mm.")],
    output: Annotated[Path, typer.Option("-o", "--output", help="Where the route goes (.json).")],
) -> None:
    """Read a person's drawing: how its pipes meet tells the fittings and styles."""
    check_output(output, (".json",), keep=[scenario_file, drawing])
    scenario = read_scenario(scenario_file)
    found = read_any_route(scenario, drawing)
    write_route(found.route, output)
    out = console()
    for remark in found.remarks:
        out.print(Text(f"{remark.kind}: {remark.text}", style="yellow"), soft_wrap=True)
    counts = found.route.counts
    out.print(
        Text(
            f"{counts.served} of {counts.heads} heads served, {counts.fittings_counted} fittings, "
            f"{counts.fittings_per_head:.2f} for each head at its takeoff; nothing is proven of a drawing"
        )
    )
    out.print(Text(f"written: {output}"), soft_wrap=True)
