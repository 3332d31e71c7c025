"""The TOML files that desk and station share: sheets, shelf and bells."""
