"""Who may come in: codes of one use, and the devices that used one.

Devices stand in a file beside the ledger, each as the SHA-256 of its token, so that they are known
after a restart, and 'serve --forget' ends them in a server that runs.
"""

import hashlib
import hmac
import json
import secrets
import threading
import time
from collections.abc import Callable
from pathlib import Path

from jarcast.files.whole import write_whole_text

MINUTES = 10  # that a code holds
MOST_WRONG = 5  # tries, by whomever, that void a code
# Crockford's base 32, without letters that look like others: 14 signs are 70 bits.
_SIGNS, _LONG = "0123456789ABCDEFGHJKMNPQRSTVWXYZ", 14
_MOST_DEVICES = 50


def devices_file(ledger: Path) -> Path:
    """Where the devices of a ledger stand."""
    return ledger.with_name(f"{ledger.name}.devices.json")


class Pairing:
    """The one code that holds, and the devices let in."""

    def __init__(self, file: Path, clock: Callable[[], float] = time.monotonic) -> None:
        """No code holds yet."""
        self._file, self._clock, self._lock = file, clock, threading.Lock()
        self._code, self._until, self._wrong = "", 0.0, 0

    def new_code(self) -> str:
        """A code of one use, which voids the one before: 'ABCD-EFGH-JKMN-PQ'."""
        with self._lock:
            self._code = "".join(secrets.choice(_SIGNS) for _ in range(_LONG))
            self._until, self._wrong = self._clock() + 60.0 * MINUTES, 0
            return "-".join(self._code[i : i + 4] for i in range(0, _LONG, 4))

    def use(self, typed: str) -> str | None:
        """The token of a device let in by this code; None for one that does not hold."""
        said = "".join(c for c in typed.upper() if c.isalnum())
        said = said.translate(str.maketrans("OIL", "011"))
        with self._lock:
            holds = bool(self._code) and self._clock() < self._until
            if not holds or not hmac.compare_digest(said.encode(), self._code.encode()):
                self._wrong += 1
                if self._wrong >= MOST_WRONG:
                    self._code = ""
                return None
            self._code = ""
            token = secrets.token_hex(32)
            self._write([*self._read(), _hash(token)][-_MOST_DEVICES:])
            return token

    def knows(self, token: str) -> bool:
        """Whether a device of this token was let in, and is still."""
        own = _hash(token)
        return any(hmac.compare_digest(own, one) for one in self._read())

    def forget(self, token: str) -> None:
        """End one device."""
        with self._lock:
            self._write([one for one in self._read() if one != _hash(token)])

    def forget_all(self) -> int:
        """End all devices, and the code; gives how many there were."""
        with self._lock:
            self._code, count = "", len(self._read())
            if self._file.exists():
                self._write([])
            return count

    def _read(self) -> list[str]:
        try:
            found = json.loads(self._file.read_text(encoding="utf-8"))["devices"]
        except (OSError, ValueError, KeyError, TypeError):
            return []  # nobody is let in by a file that cannot be read
        return [one for one in found if isinstance(one, str)] if isinstance(found, list) else []

    def _write(self, devices: list[str]) -> None:
        text = json.dumps({"version": 1, "devices": devices})
        write_whole_text(self._file, lambda stream: stream.write(text + "\n"))


def _hash(token: str) -> str:
    return hashlib.sha256(token.encode()).hexdigest()
