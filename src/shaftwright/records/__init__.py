"""What people write down: rig, stock, build, notebook. Strict, immutable, without loss."""
