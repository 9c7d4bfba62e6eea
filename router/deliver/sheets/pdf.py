"""Recorded sheets as one PDF: vector lines, real text, the same bytes for the same sheets."""

from __future__ import annotations

import io
import unicodedata
from typing import TYPE_CHECKING, Any

from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen.canvas import Canvas as Pdf

from router.deliver.draw_canvas import LAYERS, text_width
from router.deliver.sheets.recorder import Words

if TYPE_CHECKING:
    from collections.abc import Sequence

    from router.deliver.sheets.recorder import Recorder, Shape

MM = 72 / 25.4
WIDE_FONTS = (("Vera", "Vera.ttf"), ("VeraBd", "VeraBd.ttf"))
"""Bitstream Vera, which reportlab brings; embedded where a text is beyond the standard fonts."""


def _plain(text: str) -> bool:
    try:
        text.encode("cp1252")
    except UnicodeEncodeError:
        return False
    return True


def _known(text: str) -> bool:
    glyphs = pdfmetrics.getFont("Vera").face.charToGlyph
    return all(ord(char) in glyphs for char in text)


def _fonts() -> None:
    for name, file in WIDE_FONTS:
        if name not in pdfmetrics.getRegisteredFontNames():
            pdfmetrics.registerFont(TTFont(name, file))


def readable(text: str) -> str:
    """Spell what no font of the PDF has: without its accents, else by its Unicode number.

    >>> readable("H\N{LATIN SMALL LETTER U WITH DIAERESIS}l1"), readable("\N{CJK UNIFIED IDEOGRAPH-5BA4}1")
    ('Hül1', '[U+5BA4]1')

    Returns
    -------
    str
        The same text where all of it can be shown.
    """
    _fonts()
    if _plain(text) or _known(text):
        return text
    parts = []
    for char in text:
        if _plain(char) or _known(char):
            parts.append(char)
            continue
        bare = "".join(c for c in unicodedata.normalize("NFKD", char) if not unicodedata.combining(c))
        parts.append(bare if bare and _plain(bare) else f"[U+{ord(char):04X}]")
    return "".join(parts)


def _style(pdf: Any, shape: Shape) -> tuple[int, int]:
    stroke, fill = int(shape.stroke != "none" and shape.width > 0), int(shape.fill != "none")
    if stroke:
        pdf.setStrokeColor(shape.stroke)
        pdf.setLineWidth(shape.width * MM)
        dash = [float(d) * MM for d in shape.dash.split()] if shape.dash else []
        pdf.setDash(dash)
    if fill:
        pdf.setFillColor(shape.fill)
        pdf.setFillAlpha(shape.opacity)
    return stroke, fill


def _shape(pdf: Any, shape: Shape, height: float) -> None:
    stroke, fill = _style(pdf, shape)
    if shape.radius:
        x, y = shape.ways[0][0]
        pdf.circle(x * MM, (height - y) * MM, shape.radius * MM, stroke=stroke, fill=fill)
        return
    path = pdf.beginPath()
    for way in shape.ways:
        path.moveTo(way[0][0] * MM, (height - way[0][1]) * MM)
        for x, y in way[1:]:
            path.lineTo(x * MM, (height - y) * MM)
        if shape.closed:
            path.close()
    pdf.drawPath(path, stroke=stroke, fill=fill)


def _words(pdf: Any, words: Words, height: float) -> None:
    text = readable(words.text)
    family = ("Helvetica", "Helvetica-Bold") if _plain(text) else ("Vera", "VeraBd")
    font, size = family[int(words.bold)], words.size * MM
    real = pdfmetrics.stringWidth(text, font, size)
    room = text_width(words.text, words.size) * MM * (1.06 if words.bold else 1.0)
    squeeze = min(1.0, room / real) if real else 1.0
    start = {"start": 0.0, "middle": -real * squeeze / 2, "end": -real * squeeze}[words.anchor]
    pdf.saveState()
    pdf.setFillColor(words.fill)
    pdf.setFillAlpha(1.0)
    pdf.translate(words.at[0] * MM, (height - words.at[1]) * MM)
    if words.turn:
        pdf.rotate(-words.turn)
    line = pdf.beginText(start, 0.0)
    line.setFont(font, size)
    if squeeze < 1.0:
        line.setHorizScale(round(100 * squeeze, 2))
    line.textOut(text)
    pdf.drawText(line)
    pdf.restoreState()


def pdf_bytes(pages: Sequence[Recorder], width: float, height: float, title: str) -> bytes:
    """Write pages of ``width`` x ``height`` mm.

    Returns
    -------
    bytes
    """
    _fonts()
    stream = io.BytesIO()
    pdf: Any = Pdf(stream, pagesize=(width * MM, height * MM), invariant=1, pageCompression=1)
    pdf.setTitle(readable(title))
    pdf.setCreator("branch-router")
    pdf.setLineJoin(1)
    for page in pages:
        pdf.setLineCap(0)
        pdf.setLineJoin(1)
        for layer in LAYERS:
            for command in page.commands[layer]:
                if isinstance(command, Words):
                    _words(pdf, command, height)
                else:
                    _shape(pdf, command, height)
        pdf.showPage()
    pdf.save()
    return stream.getvalue()


def unreadable(pages: Sequence[Recorder]) -> list[str]:
    """List the texts that the PDF spells in another way, in order.

    Returns
    -------
    list of str
    """
    texts = [c.text for p in pages for layer in LAYERS for c in p.commands[layer] if isinstance(c, Words)]
    return [text for text in dict.fromkeys(texts) if readable(text) != text]
