"""Pages that need no network: report and card."""
