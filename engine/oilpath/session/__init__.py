"""Work that goes beyond one answer: planning a day of testing, guided entry, the steps up to a repair, trends."""
