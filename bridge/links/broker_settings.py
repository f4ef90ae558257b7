"""Settings for the broker Mosquitto with which it keeps what numbertaker needs kept, and lets in only who must.

Rule: pure, text from values. Every line says why it is there; figures were measured on Mosquitto 2.0.11.
"""

from __future__ import annotations

import base64
import binascii
import hashlib
import hmac
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from bridge.links.topics import topic_of

BOARDS_USER = "boards"
MOST_QUEUED = 10_000
ROUNDS = 1_000
SALT_BYTES = 12

LAN_WARNING = "Never let your router forward this port: it must not be reachable from the internet."

SETTINGS = f"""# Settings for the broker Mosquitto (2.0 or newer), written by `numbertaker broker`.
# Written again they are left as they are while every line that is needed stands in them.
#
# Where boards and numbertaker reach the broker: 127.0.0.1 is this machine alone, 0.0.0.0 every network that it is in.
# Passwords travel as they are. {LAN_WARNING}
listener {{port}} {{host}}

# Only who has a password, and only what the access list allows.
allow_anonymous false
password_file {{passwords}}
acl_file {{access}}

# What waits for numbertaker while it is away survives a broker that is killed. As it comes, Mosquitto saves every half
# hour only, and a kill loses all of it.
persistence true
# Saved at every tenth change. Killed as soon as it had confirmed 500 waiting messages it then had 498; saving every second
# instead it had none of 500, and 176 of 250 that came at 50 a second. Boards hold their last 32 reports for the rest.
# What is on its way to a numbertaker that is there is no change to Mosquitto: boards are asked for that.
autosave_on_changes true
# Saved at each change (1) it takes 6 ms for each message that it keeps, at every tenth 0.6 ms, and boards wait as long. The
# price is writing, each time everything that is kept: 2 MB for 500 messages that wait while numbertaker is away, 66 MB for
# 3,000, 0.7 GB for 10,000; while it runs the state that it keeps here for other programs. A memory card lives longer if
# the boards are switched off with numbertaker.
autosave_interval 10
# How many messages may wait while numbertaker is away (as it comes: 1,000). A board sends one every 2 s and one a report:
# ten boards fill it in about half an hour. What comes behind it is dropped, and named as a gap afterwards.
max_queued_messages {MOST_QUEUED}

# Each message goes out as it comes; else one that is small may wait 40 ms for the confirmation of the one before.
set_tcp_nodelay true

# Who comes and goes and what goes wrong is logged; not each saving, a line each.
log_type error
log_type warning
log_type notice
"""

BY_HAND = """
# For a broker started by hand: where it keeps what it saves, and who it runs as when root starts it (that user has to be
# able to read the files above and to write here).
persistence_location {folder}/
"""


@dataclass(frozen=True, slots=True)
class Place:
    """Where a broker listens and where its files are. `keeps_in` and `runs_as` are for one that is started by hand."""

    host: str
    port: int
    passwords: Path
    access: Path
    keeps_in: Path | None = None
    runs_as: str | None = None


def settings(place: Place) -> str:
    """The settings file. What a system's own settings say already (where it keeps things) is left to them."""
    text = SETTINGS.format(host=place.host, port=place.port, passwords=place.passwords, access=place.access)
    if place.keeps_in is not None:
        text += BY_HAND.format(folder=place.keeps_in)
        text += "" if place.runs_as is None else f"user {place.runs_as}\n"
    return text


def access_list(railway: str, user: str) -> str:
    """Who may read and write what: numbertaker all topics of its railway, boards no more than a board needs."""
    root = topic_of(railway)
    return f"""# Who may read and write what, written by `numbertaker broker`.

# numbertaker itself
user {user}
topic readwrite {root}/#

# the boards
user {BOARDS_USER}
topic write {root}/boards/+/out
topic write {root}/boards/+/link
topic read {root}/boards/+/in

# A program that is to read the state, and what numbertaker says, gets a user of its own (`mosquitto_passwd FILE NAME`)
# and here:
#   user NAME
#   topic read {root}/state/#
#   topic read {root}/says/#
"""


def needed(text: str) -> frozenset[str]:
    """The lines of a settings file or access list that say something."""
    lines = (line.strip() for line in text.splitlines())
    return frozenset(line for line in lines if line and not line.startswith("#"))


def listener_in(text: str) -> tuple[str, int] | None:
    """Host and port of the first listener of a settings file; None where there is none with both."""
    for line in text.splitlines():
        match line.split():
            case ["listener", port, host] if port.isascii() and port.isdigit():
                return host, int(port)
    return None


def hashed(password: str, salt: bytes) -> str:
    """A password as Mosquitto 2 keeps it: PBKDF2 with HMAC-SHA512 (RFC 8018), marked `$7$`, 64 bytes."""
    key = hashlib.pbkdf2_hmac("sha512", password.encode(), salt, ROUNDS)
    return f"$7${ROUNDS}${base64.b64encode(salt).decode()}${base64.b64encode(key).decode()}"


def is_hash_of(password: str, text: str) -> bool:
    """Whether this is what Mosquitto keeps of that password."""
    match text.split("$"):
        case ["", "7", rounds, salt, key] if rounds.isascii() and rounds.isdigit() and 0 < int(rounds) < 10_000_000:
            try:
                wanted = base64.b64decode(key, validate=True)
                made = hashlib.pbkdf2_hmac("sha512", password.encode(), base64.b64decode(salt, validate=True), int(rounds))
            except binascii.Error:
                return False
            return hmac.compare_digest(made, wanted)
    return False


def password_file(old: str, hashes: Mapping[str, str]) -> str:
    """The password file with the lines of these users put in; those of others, added by hand, are kept."""
    others = [line for line in old.splitlines() if line.partition(":")[0] not in hashes]
    return "".join(f"{line}\n" for line in [*(f"{user}:{text}" for user, text in hashes.items()), *others])


def hashes_in(text: str) -> dict[str, str]:
    """What a password file holds, by user."""
    return dict(line.split(":", 1) for line in text.splitlines() if ":" in line)
