"""Batches in the making for JSON. Volumes in ml, weights in g."""

from collections.abc import Mapping, Sequence
from typing import Any

from jarcast.app.open_batch import Underway
from jarcast.domain.packing import SoFar
from jarcast.domain.rules import said as rule_said
from jarcast.forecast.answer import Forecast
from jarcast.forecast.pots import USUAL_LOAD
from jarcast.measures import Units
from jarcast.recipes import PackCheck, Place
from jarcast.views.batches import batch_document
from jarcast.views.by_recipe import caution_document
from jarcast.views.counter import SHORT_RULE
from jarcast.views.forecast import forecast_document, outcome_document
from jarcast.views.formula import beyond_a_batch

_LEVEL = 0.8
_SHORT = 0.05


def step_document(
    kind: str,
    at: Underway,
    now: Forecast | None,
    units: Units,
    odd: Sequence[Mapping[str, Any]] = (),
    *,
    place: Place | None = None,
    packing: PackCheck | None = None,
    load: float = USUAL_LOAD,
    **more: Any,
) -> dict[str, Any]:
    """A step of an open batch for JSON; version 1 of 'jarcast begin', 'weigh' and 'pack'."""
    return {
        "format": f"jarcast {kind}",
        "version": 1,
        **underway_document(at, now, units, place, packing, load),
        "odd": list(odd),
        **more,
    }


def underway_document(
    at: Underway,
    now: Forecast | None,
    units: Units,
    place: Place | None = None,
    packing: PackCheck | None = None,
    load: float = USUAL_LOAD,
) -> dict[str, Any]:
    """One open batch for JSON: its values so far, its packing, what it is expected to come to."""
    values = batch_document(at.batch)
    made_up = {"jars": at.filled, "jar": bool(at.typed.get("jar", "").strip())}
    values |= {column: None for column, known in made_up.items() if not known}
    expected = expected_document(now, units, place, packing, load)
    if expected is not None and now is not None:
        expected["cautions"] += caution_document(beyond_a_batch(now, None, (), at.pots_ml))
    return {
        "batch": at.name,
        "values": values,
        "so_far": None if at.so_far is None else so_far_document(at.so_far),
        "waits_for_weight": now is None and not at.weighed,
        "forecast": expected,
        "to_come": None if now is None else to_come_document(now, units),
    }


def expected_document(
    forecast: Forecast | None,
    units: Units,
    place: Place | None = None,
    packing: PackCheck | None = None,
    load: float = USUAL_LOAD,
) -> dict[str, Any] | None:
    """What is expected after a step, or was before it, for JSON."""
    if forecast is None:
        return None
    return forecast_document(
        forecast, units, _LEVEL, _SHORT, place=place, packing=packing, load=load
    )


def so_far_document(so_far: SoFar) -> dict[str, float | None]:
    """How far a packing has come, for JSON."""
    return {name: getattr(so_far, name) for name in SoFar.__struct_fields__ if name != "earlier"}


def to_come_document(now: Forecast, units: Units) -> dict[str, Any]:
    """What is left to pack of a batch, for JSON; volumes in ml."""
    return {
        "jars": outcome_document(now.jars_to_come, _LEVEL),
        "brine_ml": outcome_document(now.brine_to_come_ml, _LEVEL),
        "runs_out": now.runs_out,
        "brine_to_make_ml": now.brine_to_make(_SHORT, units) if now.has_brine else 0.0,
        "jars_hold_less_than_recipe": now.jars_hold_less(_SHORT),
        "caution": rule_said(SHORT_RULE) if now.has_brine else "",
    }
