"""The command inspect: proposes, asks, shows, writes; what it writes reads the file."""

from __future__ import annotations

from pathlib import Path

LOG = """\
Level logger, version A
Serial number;20123
Unit;kPa
Air pressure;101,3 kPa

Date;Time;Pressure;Remark
02.06.2026;09:59:58;130,00;
02.06.2026;10:00:00;135,51;
25.06.2026;10:00:10;134,50;
"""


def test_the_profile_it_writes_reads_the_file(tmp_path: Path, command) -> None:
    """Proposed, written, named in site.toml, and used."""
    (tmp_path / "site.toml").write_text('crs = "EPSG:32632"\ntime_zone = "Europe/Berlin"\n')
    (tmp_path / "readings").mkdir()
    (tmp_path / "readings" / "T1.txt").write_text(LOG, encoding="utf-8")
    profile = tmp_path / "logger.toml"
    answer = command("inspect", tmp_path / "readings" / "T1.txt", "--write", profile)
    assert answer.returncode == 0, answer.stderr
    for said in ('delimiter = ";"', 'decimal = ","', "header_row = 6", '"air_pressure"'):
        assert said in answer.stdout
    assert "135.5" in answer.stdout  # the second row as it would be read
    assert "2026-06-02T07:59:58Z" in answer.stdout
    assert 'profiles = ["logger.toml"]' in answer.stderr
    (tmp_path / "site.toml").write_text('crs = "EPSG:32632"\n[intake]\nprofiles = "logger.toml"\n')
    from geoprofile import intake

    settings = intake.read_settings(tmp_path)
    (file,) = intake.find_files(tmp_path, settings=settings)
    assert file.profile is not None
    assert file.table == "reading"
    again = command("inspect", tmp_path / "readings" / "T1.txt", "--write", profile)
    assert again.returncode == 2
    assert "--overwrite" in again.stderr
    (tmp_path / "link.toml").symlink_to(tmp_path / "of another")
    command("inspect", tmp_path / "readings" / "T1.txt", "--write", tmp_path / "link.toml")
    assert (tmp_path / "link.toml").read_bytes() == profile.read_bytes()
    assert not (tmp_path / "of another").exists()  # nothing is written through a link


def test_what_may_be_read_in_two_ways_is_asked(tmp_path: Path, command) -> None:
    """Day or month first, thousands or decimals; nothing is chosen."""
    path = tmp_path / "samples and results.csv"
    path.write_text(
        'Sample ID,Date Sampled,Parameter,Result,Units\nS1,06/02/2026,TCE,"1,258",ug/L\n'
    )
    answer = command("inspect", path, "--table", "results")
    assert "1258 or 1.258" in answer.stdout
    assert "decimal =" not in answer.stdout.replace('decimal = ","', "", 1)
    dates = command("inspect", path, "--table", "samples")
    assert "day or month first" in dates.stdout
    assert "date_format = [" not in dates.stdout


def test_wrong_files_are_told(tmp_path: Path, command) -> None:
    """No file, no table, no header: no traceback."""
    (tmp_path / "a.csv").write_text("1,2\n3,4\n")
    (tmp_path / "b.csv").write_bytes(b"\x89PNG\r\n\x1a\n" + bytes(50))
    for words, code in (
        (("nowhere.csv",), 1),
        ((tmp_path / "a.csv",), 1),
        ((tmp_path / "b.csv",), 1),
        ((tmp_path / "a.csv", "--table", "colours"), 2),
    ):
        answer = command("inspect", *words)
        assert answer.returncode == code, answer.stderr
        assert "expected" in answer.stderr
        assert "Traceback" not in answer.stderr
