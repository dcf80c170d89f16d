"""Ask the validator of the RO-Crate community about an archive, without network.

    python -m venv V && V/bin/pip install roc-validator==0.13.0 && V/bin/python tests/sharing/official/crate.py ARCHIVE.zip

Prints what RO-Crate 1.1 and Process Run Crate 0.5 require (exit 1 if anything is found) and what they recommend.
The context that the validator would fetch is laid into its cache from the file beside this one.
"""

import io
import json
import subprocess
import sys
import tempfile
import zipfile
from collections import Counter
from pathlib import Path

CONTEXT = Path(__file__).with_name("ro-crate-1.1-context.jsonld")
ADDRESS = "https://w3id.org/ro/crate/1.1/context"
PROFILES = ("ro-crate-1.1", "process-run-crate-0.5")


def warm(cache):
    """Lay the context into the HTTP cache of the validator."""
    from requests.adapters import HTTPAdapter
    from requests_cache import CachedSession
    from urllib3 import HTTPResponse

    class Beside(HTTPAdapter):
        def send(self, request, **_):
            body, kind = io.BytesIO(CONTEXT.read_bytes()), {"Content-Type": "application/ld+json"}
            raw = HTTPResponse(body=body, headers=kind, status=200, preload_content=False, request_url=request.url)
            return self.build_response(request, raw)

    session = CachedSession(str(cache), backend="sqlite", expire_after=-1)
    session.mount("https://", Beside())
    session.get(ADDRESS)


def issues(crate, cache, profile, level):
    """What the validator says of an unpacked crate: {(check, sentence): how often}."""
    out = cache.with_name(f"{profile}-{level}.json")
    tool = Path(sys.executable).with_name("rocrate-validator")
    subprocess.run(
        [tool, "-y", "validate", "--offline", "--cache-path", cache, "--skip-availability-check", "--no-paging",
         "-p", profile, "-l", level, "-f", "json", "-o", out, crate], check=False, capture_output=True,
    )  # fmt: skip
    found = json.loads(out.read_text(encoding="utf-8"))["issues"]
    return Counter((i["check"]["identifier"], i["message"]) for i in found)


def main(archive):
    """Validate one archive."""
    bad = False
    with tempfile.TemporaryDirectory() as place:
        crate, cache = Path(place) / "crate", Path(place) / "cache"
        with zipfile.ZipFile(archive) as inside:
            inside.extractall(crate)
        warm(cache)
        for profile in PROFILES:
            for level in ("required", "recommended"):
                found = issues(crate, cache, profile, level)
                bad = bad or (level == "required" and bool(found))
                print(profile, level, "nothing found" if not found else "")  # noqa: T201
                for (check, says), many in found.items():
                    print(f"  {many} x {check}: {says}")  # noqa: T201
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1]))
