"""What a store goes through: every call failing, the power going, processes killed."""
