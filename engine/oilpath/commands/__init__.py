"""Commands that stand in a module of their own, and what all commands share."""
