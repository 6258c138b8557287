"""What was seen before: a history of verdicts and of what fixed them; two runs compared; a survey of past logs."""
