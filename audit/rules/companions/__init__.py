"""What a nestling's company foretells of it: own other visits, siblings, the season's other broods."""
