"""Forecasts as JSON: inside the scan's report by song, and a document of their own for `load`."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from audit.report.json_text import json_text
from audit.results.load import PastRehearsal, ResourceUse, SongForecast
from audit.settings.order import RunningOrder

SCHEMA = 1


def song_load(forecasts: Sequence[SongForecast]) -> dict[str, Any] | None:
    """What stands under a song's `load`; None where no machine is named."""
    return {"machines": [forecast_json(forecast) for forecast in forecasts]} if forecasts else None


def forecast_json(forecast: SongForecast) -> dict[str, Any]:
    """One song on one machine. Shares of one core or of the disk's time are from 0 to 1, and above."""
    return {
        "machine": forecast.machine,
        "song": forecast.song,
        "verdict": forecast.fit.value,
        "forecast": forecast.forecast_fit.value,
        "limiting": forecast.limiting.resource.value,
        "confidence": forecast.confidence.value,
        "why": forecast.why,
        "settles": forecast.settles,
        "frames": forecast.frames,
        "rate_hz": forecast.rate_hz,
        "smallest_buffer_frames": forecast.smallest_buffer_frames,
        "stems": forecast.stems,
        "unread": list(forecast.unread),
        "rehearsed": _rehearsed(forecast.rehearsed),
        "resources": {use.resource.value: _use(use) for use in forecast.uses},
        "cures": [
            {
                "text": cure.text,
                "resource": cure.resource.value,
                "saves": cure.saves,
                "enough": cure.enough,
            }
            for cure in forecast.cures
        ],
    }


def _rehearsed(past: PastRehearsal | None) -> dict[str, Any] | None:
    if past is None:
        return None
    return {
        "clean": past.clean, "date": past.day, "on_mains": past.on_mains, "frames": past.frames,
        "headroom": past.headroom,
    }  # fmt: skip


def _use(use: ResourceUse) -> dict[str, Any]:
    return {
        "low": use.used.low, "value": use.used.value, "high": use.used.high, "limit": use.limit,
        "capacity": use.capacity, "unit": use.unit or "share", "share": use.share, "verdict": use.fit.value,
    }  # fmt: skip


def _set_list(order: RunningOrder | None) -> dict[str, Any] | None:
    if order is None:
        return None
    return {"name": order.set_list.name, "missing": [place.name for place in order.missing]}


def load_json(
    columns: Sequence[Sequence[SongForecast]], *, show: str, version: str, order: RunningOrder | None = None
) -> str:
    """The document of `stemaudit load --json`, with a line end at its end.

    order: the set list that was asked for; `set_list` is null without one.
    """
    document = {
        "schema": SCHEMA,
        "tool": {"name": "stemaudit", "version": version},
        "show": show,
        "set_list": _set_list(order),
        "machines": [column[0].machine for column in columns],
        "forecasts": [forecast_json(forecast) for column in columns for forecast in column],
    }
    return json_text(document)
