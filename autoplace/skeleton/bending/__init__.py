"""The bend test: common motions of a skeleton, and whether what moves goes where it should."""
