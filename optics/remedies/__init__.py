"""What to change at the next run when a film came out wrong."""

PUBLIC = (
    "remedies.Remedy",
    "remedies.find_remedies",
)
