"""What a log of antennas said, as files and sentences."""
