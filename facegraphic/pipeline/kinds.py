"""What can be asked of `make`: kinds of files, their formats, and views of the box."""

FORMATS = ("svg", "png", "pdf")
KINDS = ("art", "sheet", "masks", "guide", "preview", "steps")
VIEWS = ("three-quarter", "flat", "top")
