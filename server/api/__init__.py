"""The HTTP API: one blueprint a noun; a route says who may call it, what comes in and what goes out."""
