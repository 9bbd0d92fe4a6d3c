"""What was done, what came of it, and what it teaches: the run log."""

ANSWERS = {
    "log": (
        "records.LogList",
        "records.LoggedRun",
        "records.LoggedSetup",
        "records.Recorded",
    )
}

PUBLIC = (
    "jar_posterior.JarDraws",
    "jar_prior.JarPrior",
    "learnt.Cause",
    "learnt.JarChange",
    "learnt.JarLearnt",
    "learnt.JarThen",
    "learnt.LearntNumber",
    "learnt.NextRun",
    "learnt.Notch",
    "learnt.RunCheck",
    "log.Log",
    "plots.plot_drift",
    "plots.plot_learnt",
    "records.LogList",
    "records.LoggedPiece",
    "records.LoggedRun",
    "records.LoggedSetup",
    "records.Noted",
    "records.Recorded",
    "run_model.BeforeRun",
)
