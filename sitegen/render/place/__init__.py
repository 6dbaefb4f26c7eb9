"""Put files in place: swap, bag, digests."""
