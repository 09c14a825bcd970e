"""The commands, one module each: `add` says which words it takes, `run` calls one function and prints."""
