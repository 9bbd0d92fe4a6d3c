"""What was done, what came of it, and what it teaches: the run log."""

ANSWERS = {
    "log": (
        "kiln.advice.NextHeats",
        "jar.learnt.JarLearnt",
        "jar.learnt.NextRun",
        "records.LogList",
        "records.LoggedRun",
        "records.LoggedSetup",
        "records.Recorded",
    )
}

PUBLIC = (
    "kiln.advice.NextHeats",
    "jar_posterior.JarDraws",
    "jar_prior.JarPrior",
    "jar.learnt.Cause",
    "jar.learnt.JarChange",
    "jar.learnt.JarLearnt",
    "jar.learnt.JarThen",
    "jar.learnt.LearntNumber",
    "jar.learnt.NextRun",
    "jar.learnt.Notch",
    "jar.learnt.RunCheck",
    "log.Log",
    "jar.plots.plot_drift",
    "jar.plots.plot_learnt",
    "records.LogList",
    "records.LoggedPiece",
    "records.LoggedRun",
    "records.LoggedSetup",
    "records.Noted",
    "records.Recorded",
    "run_model.BeforeRun",
)
