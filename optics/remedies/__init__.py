"""What to change at the next run when a film came out wrong."""

PUBLIC = (
    "past_run.PastRun",
    "remedies.Remedy",
    "remedies.find_remedies",
)
