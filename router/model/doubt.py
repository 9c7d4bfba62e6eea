"""When two ways to the same answer disagree: nothing is handed out then."""

from __future__ import annotations


class DoubtError(Exception):
    """What was decided cannot be right; the message says which two ways disagree, and about what."""
