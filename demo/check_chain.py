"""Proves a book's export, the chain of its seals and its sum, without anything of the tool that wrote it.

    swathbook export | python demo/check_chain.py          or: python demo/check_chain.py FILE

Only text, whole numbers, true, false, null, lists and objects are sealed. For these the canonical JSON of RFC 8785 is
compact JSON with its names sorted by UTF-16 code units, which is what `canonical` makes. What the firm loaded and what
is held is no part of the chain: of these the SHA-256 in the last line says only that nothing was lost or changed on the
way here. `export --chain` has no such line.
"""

import hashlib
import json
import sys


def ordered(part: object) -> object:
    """Sort the names of all objects in a value."""
    if isinstance(part, dict):
        return {name: ordered(part[name]) for name in sorted(part, key=lambda name: name.encode("utf-16-be"))}
    return [ordered(one) for one in part] if isinstance(part, list) else part


last, count, told, stubs = "", 0, None, {}  # stubs: by the serial of the removal that has to vouch for them
is_whole, sums = False, hashlib.sha256()
try:
    for line in open(sys.argv[1], "rb") if len(sys.argv) > 1 else sys.stdin.buffer:  # noqa: PTH123, SIM115
        link = json.loads(line)
        if link.get("kind") == "removed":
            stub = "{order} {serial} {revision} {seal}\n".format_map(link)
            stubs[link["event"]] = stubs.get(link["event"], "") + stub
            last = link["seal"]
        elif "seal" in link and "body" in link:
            parts = {name: link[name] for name in ("previous", "serial", "revision", "sealed_at", "body")}
            text = json.dumps(ordered(parts), ensure_ascii=False, separators=(",", ":"))
            fits = link["previous"] == last and hashlib.sha256(text.encode()).hexdigest() == link["seal"]
            vouched = hashlib.sha256(stubs.pop(link["serial"], "").encode()).hexdigest()
            if not fits or (
                link["body"].get("origin") == {"kind": "removal"} and link["body"]["data"]["digest"] != vouched
            ):
                sys.exit(f"BAD: {link['serial']} revision {link['revision']} is not what was sealed at this place")
            last, count = link["seal"], count + 1
        elif link.get("kind") == "book":
            told = link["last_seal"]
        elif link.get("kind") == "end":
            is_whole = link["sha256"] == sums.hexdigest()
        sums.update(line)
except (OSError, ValueError, KeyError, AttributeError) as error:
    sys.exit(f"BAD: no export that can be read ({type(error).__name__} after {count} sealed revisions)")
if stubs or told not in {None, last} or (told is not None and not is_whole) or (told is None and not count):
    sys.exit(f"BAD: something is missing or was changed; {count} sealed revisions, last seal {last or 'none'}")
print(f"OK: {count} sealed revisions, last seal {last or 'none'}")
