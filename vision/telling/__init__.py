"""Files that a report leaves behind: tables, pictures, the HTML page, the annotated clip."""
