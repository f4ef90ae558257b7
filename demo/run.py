"""See the whole job with no hardware: sets up its own environment, then starts `numbertaker demo` with these arguments."""

import sys

import environment

if __name__ == "__main__":
    python = environment.ready()
    environment.become([python, str(environment.FOLDER / "bin" / "numbertaker"), "demo", *sys.argv[1:]])
