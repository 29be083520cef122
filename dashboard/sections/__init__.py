"""A flight's page, section by section: the same tree for the screen and for paper."""
