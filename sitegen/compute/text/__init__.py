"""The narrative read: sentences, claims, tokens, objectives."""
