"""Learning from closed jobs: frequencies of causes, outcomes of checks, similar jobs, machines that came back."""
