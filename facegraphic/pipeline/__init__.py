"""The way through: a job file is prepared, then made, alone or as a gang that shares sheets."""
