"""The evidence: what the candidate's own responses say, and how sure that is."""
