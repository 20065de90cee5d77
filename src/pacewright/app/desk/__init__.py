"""The coach's desk: use cases over the stored records. Start at `desk.Desk`."""
