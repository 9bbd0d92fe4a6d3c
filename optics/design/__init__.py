"""What to deposit for a wanted reflectance, transmittance or colour?"""

ANSWERS = {"design": ("result.Designs",)}

PUBLIC = (
    "design.design",
    "emittance.emittance",
    "goal_reader.parse_goal",
    "goals.Goal",
    "merit.GoalResult",
    "plots.plot_depth",
    "plots.plot_design",
    "plots.plot_tilt",
    "practice.MaterialLimit",
    "practice.PracticeRemark",
    "result.Design",
    "result.Designs",
    "stack_tolerance.StackTolerance",
    "stack_tolerance.tolerance",
    "state.Limits",
    "tolerance.DepositionErrors",
    "tolerance.Tolerance",
    "tolerance.parse_errors",
)
