"""What words and properties say of an element: that it is a head, its size, its K-factor."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from router.readers.ifc.mapping import has_word
from router.readers.ifc.sizes import of_nominal, of_text, of_value

if TYPE_CHECKING:
    from collections.abc import Iterable

    from router.readers.ifc.mapping import Mapping

OPEN = (None, "", "NOTDEFINED", "USERDEFINED")


def is_head(element: Any, of_type: Any, kind: str, words: str, mapping: Mapping) -> bool:
    """Tell whether an element is a sprinkler: by its class, else by words.

    Returns
    -------
    bool
    """
    if kind not in ("terminal", "other"):
        return False
    both = [each for each in (element, of_type) if each is not None]
    if any(each.is_a().startswith("IfcFireSuppressionTerminal") for each in both):
        said = [getattr(each, "PredefinedType", None) for each in both]
        named = [each for each in said if each not in OPEN]
        if named:
            return bool(named[0] == "SPRINKLER")
    texts = words.replace("SPRINKLERDEACTIVATED", "")
    return has_word(texts, mapping.head_words) and not has_word(texts, mapping.not_head_words)


def k_factor(props: dict[str, Any], names: Iterable[str]) -> float | None:
    """Give the first K-factor that the properties say, in whatever unit.

    Returns
    -------
    float or None
    """
    for name in names:
        value = props.get(name)
        text = str(value).lower().replace("k", "").strip() if value is not None else ""
        try:
            number = float(text)
        except ValueError:
            continue
        if 0 < number < 1000:
            return number
    return None


def size(props: dict[str, Any], names: Iterable[str], scale: float) -> int:
    """Give the first nominal size that the properties say.

    Parameters
    ----------
    props, names
        Values by name, and the names that count.
    scale
        mm per unit of length of the file.

    Returns
    -------
    int
        The DN; 0 if there is none.
    """
    for name in names:
        value = props.get(name)
        found = 0
        if isinstance(value, str):
            found = of_value(value) or of_text(value)
        elif isinstance(value, int | float) and not isinstance(value, bool):
            # a length in the file's unit, or a bare DN whatever that unit is
            found = of_nominal(float(value) * scale) or of_nominal(float(value))
        if found:
            return found
    return 0
