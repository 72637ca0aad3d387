"""What the records say: outcomes, rise fits, what the cold took, feeds to recovery, designs."""
