"""The bow as a store of energy, and the speeds it gives."""
