"""Numbertaker: where every train and wagon of a model railway is, from the wire to the register."""

__version__ = "0.1.0"
