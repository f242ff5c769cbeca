"""What leaves the shelf for people to read: labels, records, lists, the calendar."""
