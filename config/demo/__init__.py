"""The demo shop: an invented shop with invented buyers, put in through the same services as any other."""
