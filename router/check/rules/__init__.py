"""One module per rule: ``in_force`` says what it asks, ``check`` yields what it finds."""
