"""What closed jobs teach: how often causes come, how checks come out, which jobs were alike, what comes back."""
