"""Banks, logs, sheets and calendars, written out for other programs and for paper."""
