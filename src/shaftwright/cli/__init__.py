"""Click commands, thin: parse, call, show."""
