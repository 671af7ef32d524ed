"""Sync: what a change is, how changes merge, taking changes in (push) and handing records out (pull)."""
