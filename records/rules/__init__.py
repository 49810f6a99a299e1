"""What is checked: pure functions over a visit, in one explicit table."""
