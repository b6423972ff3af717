"""The server of the live page: who may come in, what may be asked, and the process that computes."""
