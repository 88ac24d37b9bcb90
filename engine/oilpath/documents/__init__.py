"""Files and what is in them: text in, frozen models or named problems out."""
