"""From files of loggers to ``passages.csv`` and ``antenna_health.csv``, on the command line."""

from __future__ import annotations

import csv
import hashlib

import logger_files
import numpy as np
import pandas as pd
import pytest
from simulated_detections import Sky, by_events
from simulated_health import Habits, invent

import audit
from audit.cli import main
from audit.models.reads import Reads

HEAD = "box,antenna,detected_at,tag"


@pytest.fixture(scope="module")
def frame():
    log = by_events(Sky(seed=5, boxes=2, nights=6, nestlings=1))
    return logger_files.table(log.reads).drop_duplicates(ignore_index=True)


@pytest.fixture(scope="module")
def canonical(frame, tmp_path_factory):
    return logger_files.canonical(frame, tmp_path_factory.mktemp("log") / "detections.csv")


@pytest.fixture(scope="module")
def written(canonical, tmp_path_factory):
    out = tmp_path_factory.mktemp("out")
    before = hashlib.sha256(canonical.read_bytes()).hexdigest()
    assert main(["passages", str(canonical), "--out", str(out)]) == 0
    assert hashlib.sha256(canonical.read_bytes()).hexdigest() == before
    return out


def rows(path):
    with path.open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


# what is written


def test_the_files_hold_what_the_contract_says(written):
    assert sorted(path.name for path in written.iterdir()) == [
        "antenna_efficiency.csv",
        "antenna_health.csv",
        "passages.csv",
    ]
    passages, health = rows(written / "passages.csv"), rows(written / "antenna_health.csv")
    assert list(passages[0]) == ["box", "tag", "passage_at", "direction", "p", "how"]
    assert list(health[0]) == ["box", "antenna", "from", "to", "state", "efficiency"]
    assert {row["direction"] for row in passages} <= {"in", "out", "unknown"}
    assert {row["how"] for row in passages} <= {"both antennas", "inferred"}
    assert {row["antenna"] for row in health} == {"outer", "inner"}
    assert {row["state"] for row in health} <= {"awake", "asleep", "dead", "unknown"}


def test_each_box_tells_how_well_its_antennas_heard(written, canonical):
    told = rows(written / "antenna_efficiency.csv")
    assert list(told[0])[:7] == [
        "box", "heard_outer", "heard_inner", "heard_both", "outer", "outer_low", "outer_high",
    ]  # fmt: skip
    assert {row["box"] for row in told} == {row["box"] for row in rows(written / "antenna_health.csv")}
    for row in told:
        for name in ("outer", "inner"):
            assert 0 < float(row[f"{name}_low"]) <= float(row[name]) <= float(row[f"{name}_high"]) <= 1
        assert int(row["heard_both"]) <= min(int(row["heard_outer"]), int(row["heard_inner"]))
        # whole crossings, within rounding of what was heard and what was missed
        heard = int(row["heard_outer"]) + int(row["heard_inner"]) - int(row["heard_both"])
        assert float(row["crossings"]) == pytest.approx(heard + float(row["missed"]), abs=0.11)
        assert float(row["missed_low"]) <= float(row["missed_high"])
    passed = audit.passages(canonical)
    assert passed.antenna_efficiency()["outer"].between(0, 1).all()
    text = repr(passed)
    assert "while both were awake (95 % interval)" in text
    assert "The intervals hold chance, and that birds differ" in text


def test_lines_are_in_order_and_numbers_in_their_form(written):
    passages, health = rows(written / "passages.csv"), rows(written / "antenna_health.csv")
    order = [(row["box"], row["passage_at"], row["tag"]) for row in passages]
    assert order == sorted(order)
    assert all(len(row["p"]) == 6 and 0 <= float(row["p"]) <= 1 for row in passages)
    assert all(len(row["passage_at"]) == len("2026-05-04T21:14:03.250") for row in passages)
    assert all(row["efficiency"] == "" or 0 <= float(row["efficiency"]) <= 1 for row in health)
    assert all(row["from"] < row["to"] for row in health)


@pytest.mark.parametrize("lost", ["outer", "inner"])
def test_a_box_with_one_antenna_is_said_and_tells_no_passages(frame, tmp_path, capsys, lost):
    alone = frame[~((frame["box"] == "SL-02") & (frame["antenna"] == lost))]
    log = logger_files.canonical(alone, tmp_path / "detections.csv")
    assert main(["passages", str(log), "--out", str(tmp_path / "out")]) == 0
    assert {row["box"] for row in rows(tmp_path / "out" / "passages.csv")} == {"SL-01"}
    left = "inner" if lost == "outer" else "outer"
    said = " ".join(capsys.readouterr().out.split())
    count = (alone["box"] == "SL-02").sum()
    assert f"SL-02: only its {left} antenna was heard ({count:,} reads)." in said
    assert "SL-01: only" not in said


def test_most_passages_are_found(written):
    log = by_events(Sky(seed=5, boxes=2, nights=6, nestlings=1))
    found = len(rows(written / "passages.csv"))
    assert abs(found - len(log.truth.at)) < 0.1 * len(log.truth.at)


def test_the_same_log_gives_the_same_bytes(canonical, written, tmp_path):
    assert main(["passages", str(canonical), "--out", str(tmp_path)]) == 0
    for name in ("passages.csv", "antenna_health.csv", "antenna_efficiency.csv"):
        assert (tmp_path / name).read_bytes() == (written / name).read_bytes()


def test_the_summary_says_what_was_found_and_what_to_heed(canonical, tmp_path, capsys):
    main(["passages", str(canonical), "--out", str(tmp_path)])
    said = " ".join(capsys.readouterr().out.split())
    assert "at 2 boxes, from 1 file" in said
    assert "no reason to go to a box" in said
    assert "passages.csv" in said


# forms of files


@pytest.mark.parametrize(
    ("write", "name"),
    [
        (logger_files.german, "kasten.csv"),
        (logger_files.headerless, "log.txt"),
        (logger_files.by_box_and_antenna, "folder"),
    ],
)
def test_a_form_that_speaks_for_itself_gives_the_same(write, name, frame, written, tmp_path):
    source = write(frame, tmp_path / name)
    assert main(["passages", str(source), "--out", str(tmp_path / "out")]) == 0
    for result in ("passages.csv", "antenna_health.csv", "antenna_efficiency.csv"):
        assert (tmp_path / "out" / result).read_bytes() == (written / result).read_bytes()


def test_a_declared_form_gives_the_same(frame, written, tmp_path):
    source = logger_files.numbered(frame, tmp_path / "box.log")
    schemas = tmp_path / "schemas"
    schemas.mkdir()
    (schemas / "loggers.yaml").write_text(logger_files.NUMBERED, encoding="utf-8")
    call = ["passages", str(source), "--out", str(tmp_path / "out"), "--schemas", str(schemas)]
    assert main(call) == 0
    now, before = rows(tmp_path / "out" / "passages.csv"), rows(written / "passages.csv")
    assert [row | {"box": f"SL-{int(row['box']):02d}"} for row in now] == before


def test_parquet_gives_the_same(canonical, written, tmp_path):
    import duckdb

    source = tmp_path / "detections.parquet"
    duckdb.read_csv(str(canonical), dtype={"tag": "VARCHAR"}).write_parquet(str(source))
    assert main(["passages", str(source), "--out", str(tmp_path / "out")]) == 0
    assert (tmp_path / "out" / "passages.csv").read_bytes() == (written / "passages.csv").read_bytes()


def test_two_downloads_of_one_log_change_nothing(frame, written, tmp_path):
    folder = tmp_path / "downloads"
    folder.mkdir()
    logger_files.canonical(frame, folder / "second.csv")
    logger_files.canonical(frame.iloc[: len(frame) // 2], folder / "first.csv")
    passed = audit.passages(folder)
    assert passed.record.repeated == len(frame) // 2
    passed.write(tmp_path / "out")
    assert (tmp_path / "out" / "passages.csv").read_bytes() == (written / "passages.csv").read_bytes()


def test_whole_seconds_stay_whole(frame, tmp_path):
    coarse = frame.assign(detected_at=frame["detected_at"].dt.strftime("%Y-%m-%d %H:%M:%S"))
    coarse.to_csv(tmp_path / "log.csv", index=False)
    moments = [row["passage_at"] for row in audit.passages(tmp_path / "log.csv").table().to_dict("records")]
    assert moments
    assert all(moment.microsecond == 0 for moment in moments)


def test_moments_with_a_zone_are_brought_to_utc(frame, tmp_path):
    ahead = frame["detected_at"] + pd.Timedelta(hours=2)
    text = ahead.dt.strftime("%Y-%m-%dT%H:%M:%S.%f").str[:-3] + "+02:00"
    frame.assign(detected_at=text).to_csv(tmp_path / "log.csv", index=False)
    passed = audit.passages(tmp_path / "log.csv")
    passed.write(tmp_path / "out")
    plain = audit.passages(logger_files.canonical(frame, tmp_path / "plain.csv"))
    assert passed.record.zoned
    assert passed.record.passages.at.tolist() == plain.record.passages.at.tolist()
    assert all(row["passage_at"].endswith("Z") for row in rows(tmp_path / "out" / "passages.csv"))


# what cannot be read


def test_lines_that_are_no_reads_are_counted_and_named(canonical, written, tmp_path, capsys):
    lines = canonical.read_text(encoding="utf-8").splitlines()
    lines.insert(5, "# battery 3.4 V")
    lines.insert(9, "SL-01,outer,at night,999000000100001")
    lines.insert(12, "SL-01,middle,2026-05-02T21:00:00,999000000100001")
    lines.insert(14, "SL-01,outer,2026-05-02T21:00:00,")
    lines.insert(15, "")
    path = tmp_path / "log.csv"
    path.write_text("\n".join(lines), encoding="utf-8")
    assert main(["passages", str(path), "--out", str(tmp_path / "out")]) == 0
    said = capsys.readouterr().out
    assert "4 lines are no reads" in said
    for number, why in ((6, "no moment"), (10, "no moment"), (13, "no known antenna"), (15, "no tag number")):
        assert f"line {number}: it " in said
        assert why in said
    assert (tmp_path / "out" / "passages.csv").read_bytes() == (written / "passages.csv").read_bytes()


def refused(capsys, *call):
    assert main(["passages", *map(str, call)]) == 2
    said = capsys.readouterr().err
    assert "Traceback" not in said
    assert "cure:" in said
    return " ".join(said.split())


def test_what_is_not_there_is_refused(tmp_path, capsys):
    assert "no such file" in refused(capsys, tmp_path / "none.csv", "--out", tmp_path / "out")
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize(
    ("name", "text", "says"),
    [
        ("a.csv", "", "is empty"),
        ("a.csv", "\n\n", "Nothing is written"),
        ("a.pdf", "x", "cannot be read"),
        ("a.csv", "box,antenna,tag\nSL-01,outer,999000000000001\n", "the moment of each read"),
        ("a.csv", "box,antenna,detected_at\nSL-01,outer,2026-05-04 21:00:00\n", "the tag cannot be found"),
        ("a.csv", "detected_at,tag\n2026-05-04 21:00:00,999000000000001\n", "the antenna, outer or inner"),
        (
            "a.csv",
            f"{HEAD}\nSL-01,1,2026-05-04 21:00:00,99900001\nSL-01,2,2026-05-04 21:00:01,99900001\n",
            "Antennas are called 1 and 2",
        ),
        (
            "a.csv",
            "box,antenna,detected_at,tag\nSL-01,outer,04/05/2026 21:00:00,999000000000001\n",
            "can be read as",
        ),
        (
            "a.csv",
            "box,antenna,detected_at,tag\nSL-01,outer,soon,999000000000001\n",
            "how the moment of a read is written",
        ),
        ("a.parquet", "PAR1 nothing", "no whole Parquet file"),
        (
            "a.csv",
            f'{HEAD}\n"SL-01,outer,2026-05-04 21:00:00,99900001\nSL-01",outer,2026-05-04 21:00:00,99900001\n',
            "quotation mark",
        ),
    ],
)
def test_what_cannot_be_told_is_refused(name, text, says, tmp_path, capsys):
    (tmp_path / name).write_text(text, encoding="utf-8")
    assert says in refused(capsys, tmp_path / name, "--out", tmp_path / "out")
    assert not (tmp_path / "out").exists()


def test_an_empty_folder_is_refused(tmp_path, capsys):
    (tmp_path / "log").mkdir()
    assert "no log in this folder" in refused(capsys, tmp_path / "log", "--out", tmp_path / "out")


def test_results_do_not_join_the_log(frame, tmp_path, capsys):
    source = logger_files.by_box_and_antenna(frame, tmp_path / "log")
    assert "among the files as typed" in refused(capsys, source, "--out", source)
    assert sorted(path.suffix for path in source.iterdir()) == [".txt"] * 4


def test_a_result_does_not_replace_the_log(frame, tmp_path, capsys):
    source = logger_files.canonical(frame, tmp_path / "passages.csv")
    before = source.read_bytes()
    assert "would replace" in refused(capsys, source, "--out", tmp_path)
    assert source.read_bytes() == before
    assert [path.name for path in tmp_path.iterdir()] == ["passages.csv"]


def test_day_and_month_are_told_by_the_order_of_the_log(tmp_path):
    days = pd.date_range("2026-04-28 20:00", periods=12, freq="D")
    frame = pd.DataFrame({"box": "SL-01", "antenna": "outer", "detected_at": days, "tag": "999000000100001"})
    frame.assign(detected_at=days.strftime("%d/%m/%Y %H:%M:%S")).to_csv(tmp_path / "log.csv", index=False)
    heard = audit.passages(tmp_path / "log.csv").record.heard
    assert pd.to_datetime(heard.first, unit="ms")[0] == days[0]
    assert pd.to_datetime(heard.last, unit="ms")[0] == days[-1]


def test_reads_of_one_box_stand_in_one_piece(frame, tmp_path):
    from audit.antennas.log import open_log
    from audit.declarations import load_declarations

    path = logger_files.canonical(frame, tmp_path / "log.csv")
    schemas = tmp_path / "schemas"
    schemas.mkdir()
    (schemas / "loggers.yaml").write_text("engine: {reads_at_once: {value: 1}}", encoding="utf-8")
    with open_log(path, load_declarations(schemas)) as log:
        chunks = list(log.chunks())
    assert [np.unique(chunk.box).tolist() for chunk in chunks] == [[0], [1]]
    assert all(isinstance(chunk, Reads) for chunk in chunks)


def test_exchanged_antennas_are_told_of(tmp_path):
    # at least four young birds must agree before somebody is sent to look
    frame = logger_files.table(invent(2, Habits(boxes=2, chicks=(6, 7), nights=35)).reads)
    path = logger_files.canonical(frame, tmp_path / "log.csv")
    assert "exchanged" not in " ".join(audit.passages(path).record.told)
    other = frame["antenna"].map({"outer": "inner", "inner": "outer"})
    logger_files.canonical(frame.assign(antenna=other), path)
    assert ": its antennas are probably exchanged" in " ".join(audit.passages(path).record.told)


def test_a_marker_tag_is_no_bird(frame, written, tmp_path):
    beats = pd.date_range(frame["detected_at"].min().ceil("h"), frame["detected_at"].max(), freq="15min")
    marker = pd.DataFrame({"box": "SL-01", "detected_at": beats, "tag": "999000000009999"})
    both = pd.concat([frame, *(marker.assign(antenna=side) for side in ("outer", "inner"))])
    path = logger_files.canonical(both.sort_values("detected_at"), tmp_path / "log.csv")
    passed = audit.passages(path)
    assert [passed.record.tags[code] for code in passed.record.markers] == ["999000000009999"]
    assert "999000000009999" not in set(passed.table()["tag"])
    assert len(passed.table()) == pytest.approx(len(rows(written / "passages.csv")), rel=0.02)


def test_noise_is_no_bird(frame, tmp_path):
    noise = pd.DataFrame(
        {
            "box": "SL-02",
            "antenna": "outer",
            "detected_at": frame["detected_at"].iloc[[1000, 5000]],
            "tag": ["731000000412345", "512000008800001"],
        }
    )
    path = logger_files.canonical(pd.concat([frame, noise]), tmp_path / "log.csv")
    passed = audit.passages(path)
    assert not set(noise["tag"]) & set(passed.table()["tag"])
    assert "731000000412345" in " ".join(passed.record.told)
