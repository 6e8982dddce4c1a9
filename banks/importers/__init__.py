"""One file a format, one common result: drafts of questions, and findings with line numbers."""
