"""What the user wrote: the job file and what it names, read into frozen values with every problem reported at once."""
