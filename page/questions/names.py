"""Names of files that the server and its workers share; nothing else, so that it loads at once."""

PREVIEW_NAME = "preview.jpg"
