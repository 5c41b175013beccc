"""Which shaft, how long, what up front: candidates, ranking, map."""
