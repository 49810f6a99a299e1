"""A whole book as lines of JSON: written out, read back and proved, put into another book."""
