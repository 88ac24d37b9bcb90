"""What spans more than one sheet or one answer: the day of testing, a machine over its hours."""
