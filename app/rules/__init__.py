"""Plain rules of the page and the commands: no database, no Streamlit."""
