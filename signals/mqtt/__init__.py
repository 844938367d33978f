"""The contract, the link, and the brokers."""
