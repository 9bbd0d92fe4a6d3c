"""Joint inference of many spots of one photo, which share its errors."""
