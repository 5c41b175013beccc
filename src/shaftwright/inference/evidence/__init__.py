"""What shots teach: readings, periods, terms, sampler."""
