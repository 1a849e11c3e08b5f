"""Which parts does the file hold, and what is each of them?"""
