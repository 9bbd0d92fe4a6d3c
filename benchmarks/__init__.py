"""Speed against named references, and how often stated intervals hold, by simulation."""
