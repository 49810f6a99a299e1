"""Proves the chain of seals of a book's export, without anything of the tool that wrote it.

    swathbook export | python demo/check_chain.py          or: python demo/check_chain.py FILE

Only text, whole numbers, true, false, null, lists and objects are sealed. For these the canonical JSON of RFC 8785 is
compact JSON with its names sorted by UTF-16 code units, which is what `canonical` makes.
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
if stubs or told not in {None, last}:
    sys.exit(f"BAD: something is missing after {count} sealed revisions, last seal {last or 'none'}")
print(f"OK: {count} sealed revisions, last seal {last or 'none'}")
