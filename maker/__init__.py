"""The workshop itself and everything the other apps share."""

# of the program; what came with each is told in maker/updates/changes.toml
VERSION = "0.3.0"
