"""The weighing drill: balances drawn as pictures are read, and gross, bag and net written down."""
