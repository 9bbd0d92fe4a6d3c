"""Thickness and index from a measured spectrum."""

ANSWERS = {"spectrum": ("result.SpectrumFit",)}

PUBLIC = (
    "fit.fit_spectrum",
    "plots.plot_fit",
    "plots.plot_residual",
    "result.SpectrumFit",
    "summaries.FittedNumber",
    "summaries.Minimum",
)
