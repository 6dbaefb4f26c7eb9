"""The draft of a cover letter to a report."""
