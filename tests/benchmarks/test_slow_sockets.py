"""How much longer a phone waits while 50 half-open and slow sockets sit on the TLS port."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.lan.served import serving_lan
from tests.lan.slow import delays_ms, slow_sockets

SOCKETS, REQUESTS = 50, 100
DELAY_MS_MAX = 50


@pytest.mark.benchmark
def test_slow_sockets_delay_nobody(tmp_path: Path) -> None:
    with serving_lan(tmp_path / "home") as server:
        delays_ms(server, 20)
        quiet = delays_ms(server, REQUESTS)
        with slow_sockets(server, SOCKETS) as still_open:
            busy = delays_ms(server, REQUESTS)
            held = still_open()
    print(f"\nconnection, handshake and answer, in ms; {held} of {SOCKETS} slow sockets still open at the end")
    for name, sample in (("alone", quiet), (f"beside {SOCKETS}", busy)):
        shown = [sample[round(share * (len(sample) - 1))] for share in (0.5, 0.95, 1)]
        print(f"{name:>10}: median {shown[0]:.1f}, 95th percentile {shown[1]:.1f}, longest {shown[2]:.1f}")
    for share in (0.5, 0.95):
        place = round(share * (REQUESTS - 1))
        assert busy[place] - quiet[place] < DELAY_MS_MAX
