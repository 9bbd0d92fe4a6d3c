"""The local web page: the questions of the command line, answered with mouse and photos."""
