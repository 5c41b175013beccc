"""The product as it stood before the plan, and archers who obeyed it."""
