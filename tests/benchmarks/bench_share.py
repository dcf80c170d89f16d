"""100 MB packed, beside Python's own zip at the same level and the hashes of the same files; a manifest beside mere hashing.

And the full methods record of the demo journey with all its answers kept, from the package to the page.
"""

import hashlib
import tempfile
import time
import zipfile
from pathlib import Path

import bench_conditions
import numpy as np
import packages
import timing

READINGS, PHOTOGRAPHS, OF_BYTES = 1_400_000, 10, 2_500_000
SLOWER, TIMES, RECORD_S = 1.1, 1.5, 5.0


def filled(folder):
    """A package with a large logger file and photographs (noise, which no zip makes smaller); its bytes."""
    packages.trial(folder, 10_000)
    bench_conditions.write(folder / "data/conditions.csv", READINGS)
    (folder / "files").mkdir(exist_ok=True)
    chance = np.random.default_rng(7)
    for nth in range(PHOTOGRAPHS):
        (folder / f"files/photograph-{nth}.jpg").write_bytes(chance.bytes(OF_BYTES))
    return sum(path.stat().st_size for path in folder.rglob("*") if path.is_file())


def hashed(folder):
    """Every file read and hashed."""
    return [hashlib.sha256(path.read_bytes()).hexdigest() for path in sorted(folder.rglob("*")) if path.is_file()]


def zipped(folder, path, level):
    """The plain way: hashes, then every file put in by name."""
    hashed(folder)
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED, compresslevel=level) as archive:
        for file in sorted(folder.rglob("*")):
            if file.is_file():
                archive.write(file, file.relative_to(folder).as_posix())


def run():
    from palea.sharing import archive
    from palea.tables import manifest

    with tempfile.TemporaryDirectory() as place:
        folder, ours, peer = Path(place) / "package", Path(place) / "ours.zip", Path(place) / "peer.zip"
        size = filled(folder)

        def shared():
            manifest.write(folder)
            archive.write_zip(folder, ours)

        ours_s, _ = timing.core_seconds(shared)
        peer_s, _ = timing.core_seconds(lambda: zipped(folder, peer, archive.LEVEL))
        verify_s, findings = timing.core_seconds(lambda: manifest.verify(folder))
        hash_s, _ = timing.core_seconds(lambda: hashed(folder))
        with zipfile.ZipFile(ours) as one, zipfile.ZipFile(peer) as other:
            same = {i.filename: i.CRC for i in one.infolist()} == {i.filename: i.CRC for i in other.infolist()}
        record_s, rest_s, answers = record(Path(place) / "journey")
    return [
        {
            "name": f"{size / 1e6:.0f} MB packed with a manifest", "ours_s": ours_s, "peer_s": peer_s,
            "ratio": ours_s / peer_s, "wanted": f"at most {SLOWER:g} times", "met": bool(ours_s <= SLOWER * peer_s and same),
            "note": f"peer: zipfile at level {archive.LEVEL} and sha256 of the same files; one core's seconds",
        },
        {
            "name": "A manifest verified", "ours_s": verify_s, "peer_s": hash_s, "ratio": verify_s / hash_s,
            "wanted": f"at most {TIMES:g} times hashing", "met": bool(verify_s <= TIMES * hash_s and findings == []),
        },
        {
            "name": "Methods record of the demo", "ours_s": record_s, "peer_s": rest_s, "ratio": record_s / rest_s,
            "wanted": f"under {RECORD_S:g} s", "met": record_s < RECORD_S,
            "note": f"{answers} kept answers; peer: making these, without figures",
        },
    ]  # fmt: skip


def record(folder):
    """(seconds of the record, of the answers that it tells of, how many)."""
    import shutil

    import palea
    from palea.analyses import plan
    from palea.analyses.run import Subjects
    from palea.record import methods
    from palea.shipped import folder as shipped
    from palea.stamp import Stamp

    shutil.copytree(shipped("datapackages_demo") / "journey", folder)
    package = palea.open_package(folder)
    subjects = Subjects(package)
    questions = plan.questions(subjects)
    start = time.process_time()
    answers = list(plan.answers(subjects, questions))
    rest_s = time.process_time() - start
    stamp = Stamp("thrift", "2026-05-06T08:00:00+00:00")
    kept = palea.keep(package, answers, stamp, figures=False)
    record_s, _ = timing.core_seconds(lambda: methods.write(kept, folder.parent / "record.html", replace=True, stamp=stamp))
    return record_s, rest_s, len(answers)
