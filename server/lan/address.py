"""Which addresses of this computer a phone on the same network can open."""

from __future__ import annotations

import ipaddress
import socket

import ifaddr

# Nothing is sent there: a connected datagram socket only shows which of our addresses would be used (RFC 5737 range).
_ELSEWHERE = ("198.51.100.1", 9)
EVERY_ADDRESS = "0.0.0.0"  # noqa: S104 the home network is to reach the server
_EVERY = (EVERY_ADDRESS, "::")


def served_addresses(host: str) -> tuple[str, ...]:
    """IPv4 addresses under which a server that listens on `host` is reached, the likeliest first; () without network.

    A server that listens on every address is reached on those of the network, and not on loopback.
    """
    if host not in _EVERY:
        return (host,)
    found = [str(ip.ip) for adapter in ifaddr.get_adapters() for ip in adapter.ips if ip.is_IPv4]
    likeliest = _likeliest()
    ordered = sorted(set(found), key=lambda address: (address != likeliest, ipaddress.ip_address(address)))
    return tuple(address for address in ordered if _is_reachable(address))


def _is_reachable(address: str) -> bool:
    parsed = ipaddress.ip_address(address)
    return not (parsed.is_loopback or parsed.is_link_local or parsed.is_unspecified or parsed.is_multicast)


def _likeliest() -> str | None:
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asked:
        try:
            asked.connect(_ELSEWHERE)
        except OSError:
            return None
        return str(asked.getsockname()[0])
