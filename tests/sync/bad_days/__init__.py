"""Bad days for sync, drawn by lot: phones, a network and a server that fail in every way, and a plain model beside."""
