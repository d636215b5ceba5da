"""The job card: one page for the bench."""
