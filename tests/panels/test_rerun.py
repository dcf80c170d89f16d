"""A colleague's package on screen: rerun, read with the reasons, and the report kept where it is asked for."""

import palea
from palea import panels


def test_an_altered_number_is_shown_beside_the_rerun_one_with_its_reason_and_kept(small, click, stamp):
    package = palea.keep(small, [palea.run("germination.uniformity", small)], stamp, figures=False)
    results = package.folder / "data/results.csv"
    published = repr(float(package["results"]["estimate"].iloc[0]))
    results.write_text(results.read_text(encoding="utf-8").replace(published, "77.25", 1), encoding="utf-8")
    panel = panels.rerun(small, package.folder)
    click(panel.keep_button)
    assert "Rerun a package first" in panel.status.value
    click(panel.button)
    assert "1 differs" in panel.status.value
    shown = panel.report.value
    assert "<td>77.25</td>" in shown
    assert f"<td>{float(published):.6g}</td>" in shown
    assert "<td>number altered</td>" in shown
    assert "the sentences kept beside it say what comes out now" in shown
    assert 'role="img" aria-label="Published numbers against those of the rerun.' in shown
    assert not panel.keep_button.disabled
    click(panel.keep_button)
    assert "The report is kept in" in panel.status.value, panel.status.value
    assert palea.open_package(package.folder)["attachments"]["path"].tolist() == ["files/rerun-1.html"]


def test_an_empty_package_has_nothing_to_draw_and_no_name_is_asked_for(empty, click):
    panel = panels.rerun(empty, empty.folder)
    click(panel.button)
    assert "Every number came out the same." in panel.report.value
    assert "<svg" not in panel.report.value
    panel.path_box.value = ""
    click(panel.button)
    assert "Name the archive" in panel.status.value
