"""A build at work: while it runs, through time, and when something fails."""
