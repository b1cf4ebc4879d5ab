"""Evidence → numbers with their uncertainty, one pure module per test method. No files, YAML, clocks or pages here."""
