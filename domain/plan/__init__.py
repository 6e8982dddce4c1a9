"""The plan: two rounds to the exam day, day by day; replan, feasibility, slack and forecast."""
