"""The command line. Each command's body is a small module, imported only when it is run."""
