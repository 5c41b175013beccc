"""From the band to advice: candidates, ranking, shopping, diagnosis."""
