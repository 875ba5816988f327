"""Where everything on a face goes: legends, scales, frames and free text, clear of what parts and knobs cover."""
