"""What each verb of the command line does."""
