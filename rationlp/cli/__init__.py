"""The commands, one file each; they read arguments, call the library and hand results to rationlp.show."""
