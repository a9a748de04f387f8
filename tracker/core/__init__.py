"""The pure core: no clock, no files, no screen, no third party but pydantic."""
