"""What an import prints of a large tree: what is wrong, and the rest in few words."""

from pathlib import Path

from gaittrack.commands import import_report
from gaittrack.study.recordings.planning import Plan, ReportRow


def test_ten_thousand_files_with_three_broken_cost_three_lines(run, tmp_path, monkeypatch):
    """Files of other kinds are counted by kind; each broken one is named."""
    rows = [ReportRow(Path(f"film {n}.avi"), "passed over") for n in range(3000)]
    rows += [ReportRow(Path(f"walk {n}.c3d"), "added", f"P/v/c/{n}") for n in range(6997)]
    rows += [ReportRow(Path(f"bad {n}.c3d"), "refused", message="Cut short.") for n in range(3)]
    monkeypatch.setattr(import_report, "plan_folders", lambda _: Plan())
    monkeypatch.setattr(import_report, "import_files", lambda *_, **__: iter(rows))
    done = run("import", tmp_path, "--study", tmp_path / "study")
    lines = done.stderr.splitlines()
    assert sum(line.startswith("refused: bad") for line in lines) == 3
    assert lines[-1] == "passed over: 3000 files: 3000 .avi" and len(lines) == 4
    assert done.stdout.splitlines()[-1] == "3000 passed over, 6997 added, 3 refused"
