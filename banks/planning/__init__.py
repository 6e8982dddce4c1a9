"""The candidate's word on the plan: tried out first, then accepted."""
