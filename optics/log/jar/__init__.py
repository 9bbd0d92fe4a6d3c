"""What a log teaches of a jar, and the run it advises, as answers and their documents."""
