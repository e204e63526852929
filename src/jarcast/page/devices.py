"""How a device is let in, and out."""

from typing import Any

from flask import redirect, request

from jarcast.page.gate import let_in
from jarcast.page.shown import Page, field, shown


class Devices:
    """Each screen and form of letting in, by the name of its route."""

    def __init__(self, page: Page) -> None:
        """Devices of this page."""
        self._page = page

    def pair(self) -> Any:
        """Where a code is typed."""
        return shown("pair.html", 0, why="")

    def paired(self) -> Any:
        """A code was typed, or sent by the script from behind the hash sign."""
        token = self._page.pairing.use(request.form.get("code", "")[:100])
        if token is None:
            why = (
                "That code is not valid: each works once, for ten minutes. A new one is shown on a "
                "device that is let in, under Devices, or by starting 'jarcast serve' again."
            )
            return shown("pair.html", 0, 403, why=why)
        return let_in(redirect("/", 303), self._page.cookie, token)

    def devices(self) -> Any:
        """Who is let in."""
        alone = self._page.alone
        return shown("devices.html", self._page.commands.newest(), code="", qr="", alone=alone)

    def another(self) -> Any:
        """A code for another device."""
        from jarcast.page.codes import qr_drawing

        code = self._page.pairing.new_code()
        address = f"{self._page.address}/pair#{code}"
        return shown(
            "devices.html",
            self._page.commands.newest(),
            code=code,
            qr="" if self._page.alone else qr_drawing(address),
            address=self._page.address,
            alone=self._page.alone,
        )

    def forget(self) -> Any:
        """End this device, or all."""
        if field("which") == "all":
            self._page.pairing.forget_all()
        else:
            self._page.pairing.forget(request.cookies.get(self._page.cookie, ""))
        return redirect("/pair", 303)
