"""The Leafwalk server: records, sync, analysis, reports and the web API."""
