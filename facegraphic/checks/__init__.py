"""What can go wrong with a job, one small function a rule. Each takes the job and its layouts and gives findings."""
