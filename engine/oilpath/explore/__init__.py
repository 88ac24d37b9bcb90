"""The knowledge base without a sheet: what causes a symptom, what a cause does to every test, what tells two apart."""
