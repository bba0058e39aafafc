"""Slowing down guesses of a passphrase: after five misses an address waits, longer each time.

Two counts. An address that missed five times waits 2 s, then 4, 8 and so on up to a quarter of an
hour. And all addresses that are not this computer share a bucket of tries, so that many of them
together guess no faster than one. The bucket leaves this computer out: whoever drains it from the
network cannot keep an instructor from signing in on the machine itself. House rules, all of them.

>>> time = [0.0]
>>> throttle = Throttle(lambda: time[0])
>>> [throttle.take("192.0.2.7") for _ in range(6)]
[0.0, 0.0, 0.0, 0.0, 0.0, 2.0]
>>> time[0] = 2.0
>>> throttle.take("192.0.2.7"), throttle.take("192.0.2.7")
(0.0, 4.0)
"""

from __future__ import annotations

import ipaddress
import threading
import time
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass

FREE = 5
"""Misses that cost no waiting."""
LONGEST_S = 900.0
FORGOTTEN_S = 3600.0
"""How long after its last try an address starts again."""
BUCKET = 30
"""Tries that all other machines together have at once."""
REFILL_S = 10.0
"""Seconds in which the bucket gains one try."""
MOST = 2000
"""Addresses remembered; the one that tried longest ago is forgotten first."""


@dataclass(slots=True)
class _Tries:
    count: int = 0
    last: float = 0.0
    until: float = 0.0


class Throttle:
    """Counts tries by address. A try counts as a miss until it is said to have passed.

    Counting beforehand is what keeps many tries sent at once from all being the first.
    """

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock = clock
        self._tries: OrderedDict[str, _Tries] = OrderedDict()
        self._bucket, self._filled = float(BUCKET), clock()
        self._lock = threading.Lock()

    def take(self, address: str) -> float:
        """Begin a try: 0.0 if it may go on, otherwise the seconds to wait first."""
        near, name = is_this_computer(address), _grouped(address)
        with self._lock:
            now = self._clock()
            tries = self._tries.get(name) or _Tries()
            if now - max(tries.last, tries.until) > FORGOTTEN_S:
                tries = _Tries()
            if now < tries.until:
                return tries.until - now
            gained = (now - self._filled) / REFILL_S
            self._bucket, self._filled = min(float(BUCKET), self._bucket + gained), now
            if not near:
                if self._bucket < 1:
                    return (1 - self._bucket) * REFILL_S
                self._bucket -= 1
            tries.count, tries.last = tries.count + 1, now
            if tries.count >= FREE:
                # The power is bounded: beyond the longest wait it need not grow.
                tries.until = now + min(LONGEST_S, 2.0 ** min(tries.count - FREE + 1, 20))
            self._tries[name] = tries
            self._tries.move_to_end(name)
            while len(self._tries) > MOST:
                self._tries.popitem(last=False)
            return 0.0

    def passed(self, address: str) -> None:
        """The try was right: the address starts again from nothing."""
        with self._lock:
            self._tries.pop(_grouped(address), None)
            if not is_this_computer(address):
                self._bucket = min(float(BUCKET), self._bucket + 1)

    def not_tried(self, address: str) -> None:
        """The try was not looked at, so it does not count."""
        with self._lock:
            tries = self._tries.get(_grouped(address))
            if tries is not None and tries.count:
                tries.count -= 1
                tries.until = 0.0
            if not is_this_computer(address):
                self._bucket = min(float(BUCKET), self._bucket + 1)


def is_this_computer(address: str) -> bool:
    """Whether an address is this computer itself.

    >>> [is_this_computer(a) for a in ("127.0.0.1", "::1", "::ffff:127.0.0.1", "192.0.2.7", "")]
    [True, True, True, False, False]
    """
    try:
        found = ipaddress.ip_address(address)
    except ValueError:
        return False
    mapped = found.ipv4_mapped if isinstance(found, ipaddress.IPv6Address) else None
    return (mapped or found).is_loopback


def _grouped(address: str) -> str:
    """An address as it is counted: one machine may have a whole /64 of version 6."""
    try:
        found = ipaddress.ip_address(address)
    except ValueError:
        return address[:64]
    if isinstance(found, ipaddress.IPv6Address):
        if found.ipv4_mapped:
            return str(found.ipv4_mapped)
        return str(ipaddress.ip_network((int(found), 64), strict=False))
    return str(found)
