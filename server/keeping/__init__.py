"""Keeping a collection whole: backups, their return, the check, and the nightly backup."""
