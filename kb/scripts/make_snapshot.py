"""Write `kb/snapshot.json` anew from the YAML files. Run from the top of the repository after every change to them."""

from __future__ import annotations

from spotplate.kb.loading import FOLDER, SNAPSHOT, make_snapshot

if __name__ == "__main__":
    target = FOLDER / SNAPSHOT
    target.write_bytes(make_snapshot())
    print(f"wrote {target.name}")
