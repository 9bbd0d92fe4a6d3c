"""Is it metal, oxide, or something else?"""

ANSWERS = {
    "assay": (
        "verdict.Verdict",
        "expectation.Expectation",
    )
}

PUBLIC = (
    "assay.assay",
    "assay.weigh_observations",
    "colours.FilmSet",
    "expectation.Expectation",
    "expectation.ExpectedLook",
    "expectation.expect",
    "hypotheses.FilmHypothesis",
    "hypotheses.Substrate",
    "measured.NumberObservation",
    "measured.ResistanceObservation",
    "observations.CategoryObservation",
    "observations.ColourObservation",
    "observations.DepositionObservation",
    "observations.Observation",
    "plots.plot_expectation",
    "plots.plot_verdict",
    "simulated_films.FilmSample",
    "verdict.Evidence",
    "verdict.Hypothesis",
    "verdict.NextCheck",
    "verdict.Statement",
    "verdict.ThicknessShare",
    "verdict.Verdict",
)
