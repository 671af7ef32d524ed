"""Photos: bytes in, a bounded and private picture or measurements out."""
