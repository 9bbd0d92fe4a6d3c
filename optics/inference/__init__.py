"""What follows from what was seen: likelihoods, densities, candidates."""

PUBLIC = (
    "colour_table.ColourTable",
    "hypotheses.FilmModel",
    "measured.Measured",
    "next_look.NextLook",
    "reading.Reading",
    "reading.parse_reading",
    "uncertainty.Uncertainty",
)
