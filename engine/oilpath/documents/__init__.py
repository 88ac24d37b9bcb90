"""Files and what stands in them: text in, frozen models or named problems out."""
