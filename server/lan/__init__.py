"""HTTPS on the home network: private authority, TLS relay, page for trusting it, and a name by multicast DNS."""
