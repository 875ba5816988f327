"""The finished look: ink on film on paint, the box with its hardware as a solid, and pictures of it."""
