"""Plain values for screens and commands, made from the library. No view changes anything."""
