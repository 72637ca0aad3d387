"""An experiment folder: read, checked, changed, packaged."""
