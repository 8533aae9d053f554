"""The job file: models, reading with errors that point at the line, JSON Schema and reference page."""
