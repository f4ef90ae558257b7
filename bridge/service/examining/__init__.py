"""What is wrong with ports, broker, store and clock, found by trying them."""

from bridge.service.examining.finding import Finding, Part, examined

__all__ = ["Finding", "Part", "examined"]
