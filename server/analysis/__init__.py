"""Computing without a database: numbers, dates and arrays go in, dataclasses come out."""
