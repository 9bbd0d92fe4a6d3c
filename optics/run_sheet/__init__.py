"""How is a design deposited?"""

ANSWERS = {"sheet": ("result.RunSheet",)}

PUBLIC = (
    "gas.MetalLimits",
    "gas.RunGas",
    "inputs.Rates",
    "mixed_layer.MixedPart",
    "monitoring.cues.Cue",
    "monitoring.curves.LayerCue",
    "monitoring.follow.Chip",
    "monitoring.follow.LayerWatch",
    "monitoring.made_reading.WitnessReading",
    "monitoring.monitor.Monitoring",
    "monitoring.strategies.Strategy",
    "plots.plot_evenness",
    "plots.plot_witness",
    "replan.DoubtfulReading",
    "replan.MadeLayer",
    "replan.Replan",
    "result.PossibleLayer",
    "result.PossibleRun",
    "result.RunSheet",
    "result.Step",
    "run_sheet.run_sheet",
    "witness.Witness",
    "witness.WitnessLook",
)
