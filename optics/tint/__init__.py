"""What does a heat do, and which heat gives a colour?"""

ANSWERS = {
    "tint": (
        "result.Tint",
        "result.HeatStrip",
        "result.PlateHold",
        "result.Recipes",
    ),
    "coupons": ("result.Calibration",),
}

PUBLIC = (
    "calibrate.coupons",
    "heat_strip.heat_strip",
    "heat_strip.plate_hold",
    "kiln.Kiln",
    "kiln.format_kiln",
    "kiln.load_kiln",
    "kiln.parse_kiln",
    "next_heat.NextHeat",
    "plots.plot_heats",
    "plots.plot_test_pieces",
    "plots.plot_tint",
    "recipes.anodic_recipes",
    "recipes.recipes",
    "result.Calibration",
    "result.HeatStrip",
    "result.LawParameter",
    "result.PlateHold",
    "result.PlatePoint",
    "result.Recipe",
    "result.Recipes",
    "result.Residual",
    "result.Sensitivity",
    "result.Tint",
    "shades.Shade",
    "targets.Target",
    "tint.anodise",
    "tint.tint",
)
