"""One folder of JSON documents: safe writes, a lock, formats, and the log that only grows."""
