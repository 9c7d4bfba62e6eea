"""A large building model: 20,000 elements in some 60 MB, written and then read.

``python benchmarks/ifc_large.py`` writes the model to a temporary folder, reads
it and writes ``benchmarks/results/ifc_large.md``: size, elements, time as a ratio to
opening the file alone, and the most memory that reading took.

The model is made up: rows of branch lines with heads under a grid of beams,
sloping round ducts of flat faces, rectangular ducts; every element has property sets,
every head a body of flat faces.
"""

from __future__ import annotations

import platform
import subprocess
import sys
import tempfile
import time
from math import cos, pi, sin
from pathlib import Path
from typing import IO

HERE = Path(__file__).parent
HEADER = (
    "ISO-10303-21;\nHEADER;\nFILE_DESCRIPTION((''),'2;1');\nFILE_NAME('','',(''),(''),'','','');\n"
    "FILE_SCHEMA(('IFC4'));\nENDSEC;\nDATA;\n"
)
END = "ENDSEC;\nEND-ISO-10303-21;\n"
DIGITS = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz_$"
PROPERTIES = 5
SETS = 2


class Writer:
    """Writes statements and numbers them."""

    def __init__(self, stream: IO[str]) -> None:
        self.stream, self.number, self.elements = stream, 0, 0
        self.held: list[int] = []
        self.stream.write(HEADER)
        zero = self.add("IFCCARTESIANPOINT((0.,0.,0.))")
        self.flat = self.add(f"IFCAXIS2PLACEMENT2D(#{self.add('IFCCARTESIANPOINT((0.,0.))')},$)")
        self.here = self.add(f"IFCAXIS2PLACEMENT3D(#{zero},$,$)")
        self.up = self.add("IFCDIRECTION((0.,0.,1.))")
        self.context = self.add(f"IFCGEOMETRICREPRESENTATIONCONTEXT($,'Model',3,1.E-05,#{self.here},$)")
        unit = self.add("IFCSIUNIT(*,.LENGTHUNIT.,.MILLI.,.METRE.)")
        units = self.add(f"IFCUNITASSIGNMENT((#{unit}))")
        self.project = self.add(f"IFCPROJECT('{self.guid()}',$,'Large',$,$,$,$,(#{self.context}),#{units})")
        self.storey = self.add(f"IFCBUILDINGSTOREY('{self.guid()}',$,'Level 1',$,$,$,$,$,.ELEMENT.,0.)")
        self.add(f"IFCRELAGGREGATES('{self.guid()}',$,$,$,#{self.project},(#{self.storey}))")

    def add(self, text: str) -> int:
        """Write one statement."""
        self.number += 1
        self.stream.write(f"#{self.number}={text};\n")
        return self.number

    def guid(self) -> str:
        """Give the next GlobalId."""
        number, text = self.number + 1, ""
        for _ in range(22):
            number, digit = divmod(number, 64)
            text = DIGITS[digit] + text
        return text

    def place(self, at: tuple[float, float, float], z: tuple[float, float, float], x: str) -> int:
        """Write a local placement."""
        point = self.add(f"IFCCARTESIANPOINT(({at[0]:.3f},{at[1]:.3f},{at[2]:.3f}))")
        axis = self.add(f"IFCDIRECTION(({z[0]:.6f},{z[1]:.6f},{z[2]:.6f}))")
        ref = self.add(f"IFCDIRECTION(({x}))")
        return self.add(f"IFCLOCALPLACEMENT($,#{self.add(f'IFCAXIS2PLACEMENT3D(#{point},#{axis},#{ref})')})")

    def swept(self, profile: str, length: float) -> int:
        """Write the shape of an extrusion."""
        made = self.add(profile)
        solid = self.add(f"IFCEXTRUDEDAREASOLID(#{made},#{self.here},#{self.up},{length:.3f})")
        return self.shape("SweptSolid", solid)

    def shape(self, kind: str, item: int) -> int:
        """Write the shape of an item."""
        rep = self.add(f"IFCSHAPEREPRESENTATION(#{self.context},'Body','{kind}',(#{item}))")
        return self.add(f"IFCPRODUCTDEFINITIONSHAPE($,$,(#{rep}))")

    def tube(self, radius: float, length: float, sides: int, rings: int) -> int:
        """Write a round body of flat faces."""
        points = []
        for ring in range(rings + 1):
            for k in range(sides):
                t = 2 * pi * k / sides
                x, y, z = radius * cos(t), radius * sin(t), length * ring / rings
                points.append(self.add(f"IFCCARTESIANPOINT(({x:.6f},{y:.6f},{z:.6f}))"))
        faces = []
        for ring in range(rings):
            for k in range(sides):
                a, b = ring * sides + k, ring * sides + (k + 1) % sides
                faces.append([points[a], points[b], points[b + sides], points[a + sides]])
        faces += [points[:sides][::-1], points[-sides:]]
        rows = []
        for face in faces:
            loop = self.add(f"IFCPOLYLOOP(({','.join(f'#{point}' for point in face)}))")
            rows.append(self.add(f"IFCFACE((#{self.add(f'IFCFACEOUTERBOUND(#{loop},.T.)')}))"))
        shell = self.add(f"IFCCLOSEDSHELL(({','.join(f'#{row}' for row in rows)}))")
        return self.shape("Brep", self.add(f"IFCFACETEDBREP(#{shell})"))

    def element(self, ifc_class: str, name: str, placement: int, shape: int, predefined: str) -> int:
        """Write an element and its property sets."""
        made = self.add(
            f"{ifc_class}('{self.guid()}',$,'{name}',$,'{name}',#{placement},#{shape},"
            f"'{self.number}',{predefined})"
        )
        for number in range(SETS):
            rows = [
                self.add(
                    f"IFCPROPERTYSINGLEVALUE('Property {k} of the maker',$,IFCTEXT('value {k} of {name}'),$)"
                )
                for k in range(PROPERTIES)
            ]
            held = self.add(
                f"IFCPROPERTYSET('{self.guid()}',$,'Set {number}',$,({','.join(f'#{row}' for row in rows)}))"
            )
            self.add(f"IFCRELDEFINESBYPROPERTIES('{self.guid()}',$,$,$,(#{made}),#{held})")
        self.held.append(made)
        self.elements += 1
        return made

    def end(self, systems: dict[str, list[int]]) -> None:
        """Write what holds the elements together."""
        every = ",".join(f"#{made}" for made in self.held)
        self.add(f"IFCRELCONTAINEDINSPATIALSTRUCTURE('{self.guid()}',$,$,$,({every}),#{self.storey})")
        for name, members in systems.items():
            made = self.add(f"IFCSYSTEM('{self.guid()}',$,'{name}',$,$)")
            some = ",".join(f"#{member}" for member in members)
            self.add(f"IFCRELASSIGNSTOGROUP('{self.guid()}',$,$,$,({some}),$,#{made})")
        self.stream.write(END)


def write(path: Path, lines: int = 100) -> int:
    """Write the model.

    Parameters
    ----------
    path
        The file.
    lines
        Branch lines; each brings 200 elements.

    Returns
    -------
    int
        Number of elements.
    """
    level = (0.0, 0.0, 1.0)
    with path.open("w", encoding="ascii") as stream:
        out = Writer(stream)
        fire: list[int] = []
        for row in range(lines):
            y = 3000.0 * row
            for k in range(40):  # pipe of the line, heads below it, beams across
                x = 3000.0 * k
                pipe = out.swept(f"IFCCIRCLEPROFILEDEF(.AREA.,$,#{out.flat},30.15)", 3000.0)
                at = out.place((x, y, 3200.0), (1.0, 0.0, 0.0), "0.,0.,1.")
                fire.append(out.element("IFCPIPESEGMENT", f"Pipe {row}-{k}", at, pipe, ".RIGIDSEGMENT."))
                drop = out.swept(f"IFCCIRCLEPROFILEDEF(.AREA.,$,#{out.flat},16.7)", 500.0)
                at = out.place((x + 1500.0, y, 2700.0), level, "1.,0.,0.")
                fire.append(out.element("IFCPIPESEGMENT", f"Drop {row}-{k}", at, drop, ".RIGIDSEGMENT."))
                head = out.tube(15.0, 60.0, 10, 2)
                at = out.place((x + 1500.0, y, 2640.0), level, "1.,0.,0.")
                name = f"Sprinkler pendent {row}-{k}"
                fire.append(out.element("IFCFIRESUPPRESSIONTERMINAL", name, at, head, ".SPRINKLER."))
                beam = out.swept(
                    f"IFCISHAPEPROFILEDEF(.AREA.,$,#{out.flat},150.,300.,7.1,10.7,15.,$,$)", 3000.0
                )
                at = out.place((x, y, 3800.0), (0.0, 1.0, 0.0), "1.,0.,0.")
                out.element("IFCBEAM", f"Beam {row}-{k}", at, beam, ".BEAM.")
            for k in range(20):  # round and rectangular ducts
                x = 6000.0 * k
                at = out.place((x, y + 1000.0, 3500.0), (1.0, 0.0, 0.1), "0.,1.,0.")
                out.element(
                    "IFCDUCTSEGMENT", f"Round duct {row}-{k}", at, out.tube(200.0, 5500.0, 24, 1), "$"
                )
                duct = out.swept(f"IFCRECTANGLEPROFILEDEF(.AREA.,$,#{out.flat},600.,300.)", 400.0)
                at = out.place((x + 400.0, y + 2000.0, 3000.0), level, "1.,0.2,0.")
                out.element("IFCDUCTSEGMENT", f"Duct {row}-{k}", at, duct, "$")
        out.end({"Fire Protection Wet": fire})
        return out.elements


def opening(path: Path) -> tuple[float, int]:
    """Give seconds and peak memory (MB) of opening the file alone, in a process of its own."""
    code = (
        "import resource, sys, time, ifcopenshell; t = time.perf_counter();"
        "m = ifcopenshell.open(sys.argv[1]);"
        "print(time.perf_counter() - t, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024)"
    )
    done = subprocess.run([sys.executable, "-c", code, str(path)], capture_output=True, text=True, check=True)
    seconds, memory = done.stdout.split()
    return float(seconds), int(memory)


def main() -> None:
    """Write, read, report."""
    import ifcopenshell

    from router.readers.ifc import read_ifc

    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "large.ifc"
        elements = write(path, int(sys.argv[1]) if len(sys.argv) > 1 else 100)
        size = path.stat().st_size / 1024 / 1024
        alone, alone_mb = opening(path)
        peak: dict[str, int] = {}
        steps: list[str] = []
        start = time.perf_counter()
        drawn = read_ifc([path], None, lambda stage, *_: steps.append(stage), peak=peak)
        seconds = time.perf_counter() - start
    found = f"{len(drawn.heads)} heads, {len(drawn.pipes)} pipes, {len(drawn.solids)} obstructions"
    text = "\n".join(
        [
            "# Reading a large building model",
            "",
            "Written by `benchmarks/ifc_large.py`; of the times only the ratio means much.",
            "",
            "| what | value |",
            "|---|---|",
            f"| size | {size:.1f} MB |",
            f"| elements | {elements} |",
            f"| opening it alone | {alone:.1f} s, {alone_mb} MB |",
            f"| reading it whole | {seconds:.1f} s, {seconds / alone:.1f} times opening it |",
            f"| most memory of the reading process | {peak['large.ifc']} MB |",
            f"| progress told | {len(steps)} times |",
            f"| found | {found} |",
            f"| with | ifcopenshell {ifcopenshell.version}, Python {platform.python_version()} |",
            "",
            *(f"- {note}" for note in drawn.notes),
            "",
        ]
    )
    (HERE / "results" / "ifc_large.md").write_text(text, encoding="utf-8")
    print(text)


if __name__ == "__main__":
    main()
