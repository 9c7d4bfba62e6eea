"""Commands that turn other data into a scenario: a coordination model, a drawing, tables."""

from pathlib import Path
from typing import Annotated

import typer
from rich.text import Text

from router.cli.app import import_app
from router.deliver.ending import console, guarded, say
from router.deliver.files import check_output, save
from router.deliver.reading import Reading
from router.deliver.segments_csv import write_drawing
from router.readers import ImportResult, read_csv_folder
from router.readers.drawn import Drawn
from router.readers.dxf import read_dxf, read_dxf_mapping
from router.readers.floor import floor
from router.readers.ifc import read_ifc, read_mapping
from router.readers.into import into
from router.readers.tables import read_columns, tables_drawn
from router.scenario import ScenarioError, notes, read_scenario
from router.scenario.write import file_text

SCENARIO_ENDINGS = (".json", ".yaml", ".yml")

ScenarioOut = Annotated[
    Path, typer.Option("-o", "--output", help="Where the scenario goes (.json, .yaml or .yml).")
]
DrawingOut = Annotated[
    Path | None,
    typer.Option(
        "--drawing",
        help="Where the route goes that is drawn there, as a table of straight pipes (.csv) to compare "
        "with. [default: beside the scenario, its name and _drawn.csv]",
    ),
]
BaseFile = Annotated[
    Path | None,
    typer.Option(
        "--into",
        metavar="SCENARIO",
        help="Take this scenario with its lines and rules, and put the heads and obstructions that are found "
        "in place of its own.",
    ),
]


def _made(drawn: Drawn, base: Path | None) -> ImportResult:
    """Make the scenario; where it cannot be made, say first what was found: it tells why."""
    try:
        return floor(drawn) if base is None else into(read_scenario(base), drawn)
    except ScenarioError:
        for note in drawn.notes:
            say(note)
        raise


def _given(*paths: Path | None) -> list[Path]:
    return [path for path in paths if path is not None]


def _outputs(output: Path, drawing: Path | None, inputs: list[Path]) -> Path:
    """Check both outputs; give the one of the drawing."""
    check_output(output, SCENARIO_ENDINGS, keep=inputs)
    beside = drawing or output.with_name(f"{output.stem}_drawn.csv")
    check_output(beside, (".csv",), keep=[*inputs, output])
    return beside


def _write(result: ImportResult, output: Path, drawing: Path | None) -> None:
    """Write the scenario and the drawn route, say what was taken and what was not."""
    texts = {output: file_text(result.scenario, output)}
    if drawing is not None and result.drawing:
        texts[drawing] = write_drawing(result.drawing)
    for path, text in texts.items():
        save(path, text)
    out = console()
    if drawing is not None and drawing not in texts and drawing.exists():
        say(f"{drawing} is of an earlier import: no route is drawn in what was read now", "yellow")
    for line in result.report.text().splitlines():
        out.print(Text(line), soft_wrap=True)
    for note in notes(result.scenario):
        out.print(Text(f"note: {note}", style="yellow"), soft_wrap=True)
    for path in texts:
        what = "" if path == output else ": the route as drawn, to compare with"
        out.print(Text(f"written: {path}{what}"), soft_wrap=True)


@import_app.command("csv")
@guarded("import")
def import_csv(
    folder: Annotated[
        Path,
        typer.Argument(metavar="DIR", help="Folder with heads.csv, pipes.csv and obstructions.csv (mm)."),
    ],
    output: ScenarioOut,
) -> None:
    """Turn a folder of tables (heads, pipes, obstructions) into a scenario."""
    check_output(output, SCENARIO_ENDINGS)
    _write(read_csv_folder(folder), output, None)


@import_app.command("ifc")
@guarded("import")
def import_ifc(
    files: Annotated[
        list[Path],
        typer.Argument(metavar="FILE...", help="Models (.ifc, .ifczip): sprinklers, structure, ducts ..."),
    ],
    output: ScenarioOut,
    drawing: DrawingOut = None,
    mapping: Annotated[
        Path | None,
        typer.Option(help="What is a head, a line, an obstruction in these models (.yaml or .json)."),
    ] = None,
    base: BaseFile = None,
) -> None:
    """Turn coordination models (IFC) into a scenario, and the arms in them into a route to compare with."""
    beside = _outputs(output, drawing, [*files, *_given(mapping, base)])
    chosen = read_mapping(mapping) if mapping else None
    with Reading() as reading:
        drawn = read_ifc(files, chosen, reading.tell)
    _write(_made(drawn, base), output, beside)


@import_app.command("dxf")
@guarded("import")
def import_dxf(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="Drawing (.dxf).")],
    output: ScenarioOut,
    drawing: DrawingOut = None,
    mapping: Annotated[
        Path | None, typer.Option(help="Which layer holds what (.yaml or .json). [default: our own layers]")
    ] = None,
    base: BaseFile = None,
) -> None:
    """Turn a drawing (DXF) into a scenario, by its layers."""
    beside = _outputs(output, drawing, [file, *_given(mapping, base)])
    _write(_made(read_dxf(file, read_dxf_mapping(mapping) if mapping else None), base), output, beside)


@import_app.command("table")
@guarded("import")
def import_table(
    output: ScenarioOut,
    heads: Annotated[Path | None, typer.Option(help="Table of heads (.csv or .xlsx).")] = None,
    obstructions: Annotated[Path | None, typer.Option(help="Table of obstructions (.csv or .xlsx).")] = None,
    pipes: Annotated[
        Path | None, typer.Option(help="Table of pipes of mains and lines (.csv, .xlsx).")
    ] = None,
    columns: Annotated[
        Path | None, typer.Option(help="Which column holds what, in which unit (.yaml or .json).")
    ] = None,
    base: BaseFile = None,
    drawing: DrawingOut = None,
) -> None:
    """Turn tables of heads and obstructions into a scenario, or into another state of one."""
    beside = _outputs(output, drawing, _given(heads, obstructions, pipes, columns, base))
    drawn = tables_drawn(heads, obstructions, pipes, read_columns(columns) if columns else None)
    _write(_made(drawn, base), output, beside)
