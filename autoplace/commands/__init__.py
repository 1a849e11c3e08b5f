"""The commands of `autoplace`: arguments in, printed reports out; one module for each."""
