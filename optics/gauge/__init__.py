"""How thick is it, from what was seen?"""

ANSWERS = {
    "gauge": (
        "result.Estimate",
        "result.ManyEstimates",
        "joint.piece.PieceEstimate",
    )
}

PUBLIC = (
    "batch.gauge_many",
    "batch.read_readings",
    "doubts.WideningDoubt",
    "gauge.gauge",
    "joint.faults.SharedFaults",
    "joint.model.NodeWeights",
    "joint.model.SharedModel",
    "joint.model.SharedUnknowns",
    "joint.piece.PieceEstimate",
    "joint.piece.gauge_one_piece",
    "joint.result.JointEstimate",
    "joint.result.SharedValue",
    "joint.sampler.JointDraws",
    "photo.reading_from_photo",
    "plots.plot_estimate",
    "plots.plot_film_colours",
    "result.Candidate",
    "result.Estimate",
    "result.ManyEstimates",
    "result.RowEstimate",
)
