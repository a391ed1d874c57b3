"""What can be measured of lines in a region."""
