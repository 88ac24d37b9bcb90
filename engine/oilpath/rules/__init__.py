"""Rules: facts in words (`facts`) and the rule engine (`engine`)."""
