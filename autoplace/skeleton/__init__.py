"""The skeleton itself: records, names, orientation and checks."""
