"""CSV files in and out: the collection as tables that any spreadsheet opens."""
