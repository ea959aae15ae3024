"""Results for people: text for the terminal, tables, pictures, documents."""
