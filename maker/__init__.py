"""The workshop itself and everything the other apps share."""
