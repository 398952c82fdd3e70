"""Inspections kept in memory, the least recently asked for dropped first."""

from __future__ import annotations

import secrets
from collections import OrderedDict
from dataclasses import dataclass
from threading import Lock

from fastapi import Response

from inspector.report import Json

MOST_KEPT = 64


@dataclass(frozen=True, slots=True)
class Kept:
    """What is kept of one inspection: its JSON, page and pictures, not the photo."""

    report: Json
    page: Response
    overlay_jpeg: bytes
    views_jpeg: bytes
    regions_png: bytes


class Store:
    """A bounded store, safe to use from several threads."""

    def __init__(self, most: int = MOST_KEPT) -> None:
        """Keep at most so many inspections."""
        self._most = most
        self._kept: OrderedDict[str, Kept] = OrderedDict()
        self._lock = Lock()

    @staticmethod
    def new_id() -> str:
        """An id that cannot be guessed."""
        return secrets.token_urlsafe(9)

    def add(self, key: str, kept: Kept) -> None:
        """Keep it, dropping the least recently used beyond the bound."""
        with self._lock:
            self._kept[key] = kept
            while len(self._kept) > self._most:
                self._kept.popitem(last=False)

    def get(self, key: str) -> Kept | None:
        """The inspection of that id, if it is still kept."""
        with self._lock:
            if key in self._kept:
                self._kept.move_to_end(key)
            return self._kept.get(key)
