"""What people type beside the values: headings with units, stars and colons."""
