"""A demonstration collection: invented, seeded, deterministic; it enters through sync like a phone."""
