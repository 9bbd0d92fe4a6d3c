"""What the page may ask: each question reads its fields, calls one job and gives its JSON."""
