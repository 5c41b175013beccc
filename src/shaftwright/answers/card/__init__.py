"""The setup card."""
