"""What every room of the course side stands on: files, text, pages, spreadsheets, the database, outcomes."""
