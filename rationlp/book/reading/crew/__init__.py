"""What the crew enters: deliveries and what was weighed."""
