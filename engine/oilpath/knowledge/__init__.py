"""The knowledge base: what its files hold (causes, rules, checks, tests, circuits), read and checked."""
