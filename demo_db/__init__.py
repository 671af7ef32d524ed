"""A demonstration collection: invented, seeded, deterministic; it enters through sync like a phone.

`build.build(home, today)` makes one; `truths.planted(seed)` says which trees have which trouble in it.
"""
