"""Reports: where records meet analysis. Load, call pure functions, return dataclasses; no SQL beyond the queries."""
