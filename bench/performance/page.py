def write(kept): pass
