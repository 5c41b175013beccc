"""The rule set: schema, loading, vectorised evaluation and the trace."""
