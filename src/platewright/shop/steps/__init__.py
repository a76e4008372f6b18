"""What each station of the line does: inputs from the job document, one stage's call, a result to keep."""
