"""Ids of the open model standard (ISO 16739 GloballyUniqueId): the same thing always gets the same one."""

from __future__ import annotations

import re
import uuid

_DIGITS = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz_$"
_GUID = re.compile(r"[0-3][0-9A-Za-z_$]{21}")
_OURS = uuid.uuid5(uuid.NAMESPACE_URL, "branch-drop-router")


def uuid_of(scenario: str, kind: str, name: str) -> uuid.UUID:
    """Give the identity of a thing.

    Parameters
    ----------
    scenario
        Name of the scenario: files of two scenarios can be open together.
    kind
        List or part that it belongs to, as ``heads`` or ``piece``.
    name
        Its id there.

    Returns
    -------
    uuid.UUID
        Version 5, by the names alone.
    """
    return uuid.uuid5(_OURS, "\x1f".join((scenario, kind, name)))


def is_guid(text: str | None) -> bool:
    """Tell whether a text is an identity as ISO 16739 writes it: 128 bits in 22 characters.

    Returns
    -------
    bool
    """
    return text is not None and _GUID.fullmatch(text) is not None


def guid_of(scenario: str, kind: str, name: str) -> str:
    """Give the same identity in the 22 characters of ISO 16739.

    Returns
    -------
    str
        Base 64 with the standard's own digits, the first character 0 to 3.
    """
    number = uuid_of(scenario, kind, name).int
    text = ""
    for _ in range(22):
        number, digit = divmod(number, 64)
        text = _DIGITS[digit] + text
    return text
