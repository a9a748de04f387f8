"""An audit as something to read: sheets of tables and drawings, in text, on a page, and as flat files."""
