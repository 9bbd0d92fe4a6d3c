"""Reading a person's files of numbers, and writing whole files or none."""

PUBLIC = (
    "spectrum.Spectrum",
    "spectrum.read_spectrum",
)
