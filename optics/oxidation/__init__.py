"""How oxide grows on metal, by heat or by voltage."""

PUBLIC = (
    "anodic.BathDraws",
    "calibration.LawDraws",
    "laws.Law",
    "log_file.read_log",
    "metals.AnodicLaw",
    "metals.KilnSpread",
    "metals.Metal",
    "metals.Scale",
    "oxide.OxideRatio",
    "regime.Regime",
    "schedule.HeatSchedule",
    "schedule.cool",
    "schedule.hold",
    "schedule.pass_spot",
    "schedule.ramp",
)
