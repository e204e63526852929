"""jarcast kitchen."""

from jarcast.cli.altitude import (
    KeptAltitudeOption,
    parse_altitude,
    remember_altitude,
    remembered_altitude,
)
from jarcast.cli.common import (
    JsonOption,
    LedgerOption,
    UnitsOption,
    kitchen_units,
    ledger_path,
    show,
    show_json,
)


def kitchen(
    altitude: KeptAltitudeOption = None,
    units: UnitsOption = None,
    ledger: LedgerOption = None,
    as_json: JsonOption = False,
) -> None:
    """Show what is remembered of your kitchen, or change it: its altitude and its units.

    \b
    Examples:
      jarcast kitchen
      jarcast kitchen --altitude "900 ft" --units us
    """
    from jarcast.views.kitchen import kitchen_document, kitchen_text

    path = ledger_path(ledger)
    if altitude is not None:
        remember_altitude(path, altitude)
    known, shown = remembered_altitude(path), kitchen_units(path, units)
    feet = None if known is None else parse_altitude(known)
    if as_json:
        show_json(kitchen_document(known, feet, shown))
    else:
        show(kitchen_text(known, shown))
