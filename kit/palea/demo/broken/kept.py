"""Mistakes in measurements, files, kept results and the record itself."""

import hashlib
import json
from struct import pack
from zlib import crc32

from palea.demo.broken.mistake import mistake
from palea.demo.drawings import cut_pellets
from palea.tables import descriptor

AFTER = 5  # the line of the journal that no longer follows the one before it


@mistake(29, "seeds taken as replicates in a kept analysis")
def seeds_as_replicates(desk):
    desk.add("analyses", analysis_id="own-1", recipe="own.chi-square", version="1", trial_id="G1")
    row = desk.add(
        "results",
        analysis_id="own-1",
        result_no=1,
        quantity="normal seedlings",
        treatment_a="CC-T05",
        treatment_b="CC-T03",
        denominator="sown units",
        scale="difference",
        estimate="-4.0",
        lower="-9.0",
        upper="1.0",
        confidence="0.95",
        unit="%",
        df="798",
        p_value="0.12",
        n_units="800",
        n_seeds="800",
        verdict="not shown",
        status="current",
    )
    return [("record.seeds-as-replicates", "results", row)]


@mistake(38, "plants weighed together, and nobody wrote down how many")
def how_many(desk):
    row = next(m for m in desk["measurements"] if m["trait"] == "dry mass" and "AV-T05" in m["plant_id"])
    row |= {"unit_id": desk.one("plants", plant_id=row["plant_id"])["unit_id"], "plant_id": "", "n_plants_pooled": ""}
    return [("field.mass-of-how-many", "measurements", row)]


@mistake(39, "the exact place of a sensitive species in a copy that left the house")
def exact_place(desk):
    row = desk.one("lots", lot_id="CC-0")
    row |= {"latitude": "54.31274", "longitude": "-4.98213"}
    return [("sharing.exact-place", "lots", row)]


@mistake(40, "a photograph that carries the place where it was taken")
def says_where(desk):
    data = _with_position(cut_pellets())
    desk.files["files/bench.png"] = data
    row = desk.add(
        "attachments",
        attachment_id="F-bench",
        path="files/bench.png",
        sha256=hashlib.sha256(data).hexdigest(),
        media_type="image/png",
        taken_at="2024-01-11",
        taken_by="sorrel",
        shows="Pellets on the bench. Invented drawing.",
        scale_bar_mm="1.0",
        about_table="lots",
        about_id="CC-T09-1",
        licence="CC0-1.0",
        may_share="true",
    )
    return [("sharing.file-says-where", "attachments", row)]


def _with_position(png):
    """A PNG with an Exif block that says 54° 18' N, 4° 58' W. Source: PNG third edition, eXIf; Exif 2.3, 4.6.6."""

    def entry(tag, kind, count, value):
        return pack(">HHI", tag, kind, count) + value

    gps_at, far = 8 + 2 + 12 + 4, 8 + 2 + 12 + 4 + 2 + 4 * 12 + 4
    degrees = b"".join(pack(">II", n, 1) for n in (54, 18, 0)) + b"".join(pack(">II", n, 1) for n in (4, 58, 0))
    gps = pack(">H", 4) + entry(1, 2, 2, b"N\0\0\0") + entry(2, 5, 3, pack(">I", far)) + entry(3, 2, 2, b"W\0\0\0")
    gps += entry(4, 5, 3, pack(">I", far + 24)) + pack(">I", 0)
    exif = (
        b"MM\0*"
        + pack(">I", 8)
        + pack(">H", 1)
        + entry(0x8825, 4, 1, pack(">I", gps_at))
        + pack(">I", 0)
        + gps
        + degrees
    )
    chunk = pack(">I", len(exif)) + b"eXIf" + exif + pack(">I", crc32(b"eXIf" + exif))
    end = png.rindex(b"IDAT") - 4
    return png[:end] + chunk + png[end:]


@mistake(41, "a logger whose clock was not put back, and that was silent for nine days")
def logger(desk):
    written = [f"2024-10-{day:02d}T{hour:02d}:00+02:00" for day in (25, 26) for hour in range(0, 24, 6)]
    written += ["2024-10-27T00:00+02:00", *(f"2024-10-27T{hour:02d}:00+01:00" for hour in (6, 12, 18))]
    written += [f"2024-11-{day:02d}T{hour:02d}:00+01:00" for day in (5, 6) for hour in range(0, 24, 6)]
    rows = [
        desk.add(
            "conditions",
            equipment_id="logger-4",
            logged_at=at,
            quantity="soil temperature",
            site_id="long-spit",
            value=f"{9 + n % 4 * 0.5:.1f}",
            unit="Cel",
            of_the_day="reading",
        )
        for n, at in enumerate(written)
    ]
    clock, hole = rows[9], rows[12]
    return [("field.logger-clock", "conditions", clock), ("field.logger-hole", "conditions", hole)]


@mistake(42, "a result older than the data that it was computed from")
def older_than_data(desk):
    row = desk.add(
        "analyses",
        analysis_id="G2-final",
        recipe="germination.final",
        version="1",
        trial_id="G2",
        options="{}",
        reads=json.dumps({"counts": ["count", "outcome", "unit_id", "visit_id"]}),
        ran_at="2024-05-02",
        data_hash=f"sha256:{'0' * 64}",
        code_version="palea 0.1.0",
    )
    return [("record.result-older-than-data", "analyses", row)]


@mistake(43, "a line of the journal altered")
def journal_altered(desk):
    def alter(desk):
        path = desk.folder / descriptor.JOURNAL
        lines = path.read_bytes().split(b"\n")
        lines[AFTER - 2] = lines[AFTER - 2].replace(b"C. Sorrel", b"A. Fennel")
        path.write_bytes(b"\n".join(lines))

    desk.last.append(alter)
    return [("journal.chain", "journal", AFTER), ("package.hash", "journal", None)]


@mistake(44, "words in a number column")
def words_for_number(desk):
    row = next(m for m in desk["measurements"] if m["trait"] == "height" and "AV-T03" in m["plant_id"])
    row["value"] = "ca. 40"
    return [("cell.number", "measurements", row)]


@mistake(50, "a file that is not the one that the descriptor names")
def other_file(desk):
    def alter(desk):
        resource = next(r for r in desk.descriptor["resources"] if r["name"] == "storage")
        resource["hash"] = f"sha256:{'a' * 64}"
        desk.restate()

    desk.last.append(alter)
    return [("package.hash", "storage", None)]


MISTAKES = (
    seeds_as_replicates,
    how_many,
    exact_place,
    says_where,
    logger,
    older_than_data,
    journal_altered,
    words_for_number,
    other_file,
)
