"""Records as texts in a DXF file: cut into the short strings that the format allows, and put together again.

A string of extended data holds at most 255 bytes (DXF reference, group code
1000), all extended data of one entity 16 kB. What is longer stands in a
record of the entity's extension dictionary.
"""

from __future__ import annotations

import unicodedata
from typing import TYPE_CHECKING, Any, Final

from router.readers.dxf.names import APPID, SETTINGS
from router.scenario.carried import packed, settings_of, unpacked

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from ezdxf.document import Drawing
    from ezdxf.entities.dxfentity import DXFEntity

PIECE: Final = 240
MOST_BESIDE: Final = 12_000
MOST: Final = 16_000_000


LONGEST_SHOWN: Final = 80


def readable(text: str) -> str:
    """Give a text without bytes that were no letters in the drawing's encoding.

    Returns
    -------
    str
    """
    return text.encode("utf-8", "replace").decode("utf-8")


def plain(text: str) -> str:
    """Give a text as one short line that means the same in every program that reads the drawing.

    Returns
    -------
    str
    """
    kept = []
    for char in text:
        category = unicodedata.category(char)
        kept.append(" " if category == "Cc" else "" if category in ("Cs", "Cn", "Cf") else char)
    return "".join(kept).replace("\\", "/").replace("%%", "% %")[:LONGEST_SHOWN].strip()


def pieces(text: str) -> list[str]:
    """Cut JSON into strings that every program hands on unchanged.

    No string begins or ends with a blank, and none has a backslash pair or a
    caret, in which DXF hides other letters: JSON spells them as numbers.

    Returns
    -------
    list of str
        ASCII, at most 252 bytes each; joined they mean what ``text`` means.
    """
    safe = text.replace("\\\\", "\\u005c").replace("^", "\\u005e")
    parts = [safe[k : k + PIECE] for k in range(0, len(safe), PIECE)]
    return [_edges(part) for part in parts]


def _edges(part: str) -> str:
    if part.startswith(" "):
        part = "\\u0020" + part[1:]
    if part.endswith(" "):
        part = part[:-1] + "\\u0020"
    return part


def carry(entity: DXFEntity, record: Mapping[str, Any]) -> None:
    """Let an entity carry a record."""
    parts = pieces(packed(record))
    if sum(map(len, parts)) <= MOST_BESIDE:
        entity.set_xdata(APPID, [(1000, part) for part in parts])
        return
    dictionary = entity.get_extension_dict() if entity.has_extension_dict else entity.new_extension_dict()
    dictionary.add_xrecord(APPID).reset([(1, part) for part in parts])


def carry_settings(doc: Drawing, text: str) -> None:
    """Let the drawing carry what belongs to the scenario as a whole."""
    doc.rootdict.add_xrecord(SETTINGS).reset([(1, part) for part in pieces(text)])


def carried_by(entity: DXFEntity) -> dict[str, Any] | None:
    """Give the record that an entity carries, ``None`` if it carries none of ours.

    Raises
    ------
    ValueError
        If it is not one JSON object.
    """
    if entity.has_xdata(APPID):
        tags = entity.get_xdata(APPID)
        return _record(str(tag.value) for tag in tags if tag.code == 1000)
    if entity.has_extension_dict:
        found = entity.get_extension_dict().dictionary.get(APPID)
        if found is not None and hasattr(found, "tags"):
            return _record(str(tag.value) for tag in found.tags if tag.code == 1)
    return None


def carried_settings(doc: Drawing) -> dict[str, Any] | None:
    """Give what the drawing carries for the scenario as a whole.

    Raises
    ------
    ValueError
        If it is not one JSON object.
    """
    found = doc.rootdict.get(SETTINGS)
    if found is None:
        return None
    if not hasattr(found, "tags"):
        raise ValueError("is no record of texts")
    return settings_of(_text(str(tag.value) for tag in found.tags if tag.code == 1))


def _record(parts: Iterable[str]) -> dict[str, Any]:
    return unpacked(_text(parts))


def _text(parts: Iterable[str]) -> str:
    text = "".join(parts)
    if len(text) > MOST:
        raise ValueError(f"{len(text)} letters; at most {MOST} expected")
    return text
