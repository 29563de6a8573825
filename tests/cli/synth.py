"""synth: equal seeds give equal bytes, the truth is JSON that agrees with the recording, refusals leave nothing behind."""
import json
import os
import stat
import subprocess

from support import PROGRAM, check, done, folder, run

QUICK = ["--seconds", "3", "--rate", "1000"]  # short and coarse: the contents are held against physics elsewhere


def refuse(word):
    raise ValueError("%s is not JSON" % word)


def synth(*options):
    return run("synth", *QUICK, *options)


with folder() as here:
    def at(name):
        return os.path.join(here, name)

    def data(name):
        with open(at(name), "rb") as file:
            return file.read()

    # Equal seeds, equal bytes, in every format; another seed gives other bytes.
    for name, options in (("a.csv", []), ("a.tsv", []), ("a.wav", []), ("a.flac", []), ("b.csv", ["--format", "semicolon"]),
                          ("w.csv", ["--wheel", "60-2", "--cam"]), ("v.csv", ["--wheel", "36-1", "--wheel-as", "analog"]),
                          ("p.csv", ["--pressure", "2", "--pressure-unit", "bar"]), ("p.flac", ["--pressure", "2", "--only", "battery"])):
        seen = []
        for seed in ("7", "7", "8"):
            code, stdout, stderr = synth("--seed", seed, "--output", at(name), "--truth", at("truth.json"), *options)
            check(code == 0 and stdout == "" and stderr == "", "%s: %d %s" % (name, code, stderr))
            seen.append((data(name), data("truth.json")))
        check(seen[0] == seen[1], name + ": equal seeds give other bytes")
        check(seen[0][0] != seen[2][0], name + ": another seed gives the same bytes")
        code, stdout, stderr = run("inspect", at(name), "--json", "-")
        check(code == 0 and len(json.loads(stdout)["channels"]) >= 2, "%s is not read: %s" % (name, stderr))
    code, stdout, _ = synth("--seed", "7")
    check(code == 0 and stdout.encode() == synth("--seed", "7", "--output", at("a.csv"))[1].encode() + data("a.csv"),
          "standard output is not what the file holds")

    # The truth: valid JSON, simulated and saying so, and agreeing with what was asked for and with itself.
    code, _, _ = synth("--order", "1-3-4-2", "--fault", "3:rings:3", "--fault", "2:charge", "--seed", "3", "--output",
                       at("c.csv"), "--truth", at("truth.json"))
    truth = json.loads(data("truth.json"), parse_constant=refuse)
    check(truth["simulated"] is True and truth["seed"] == 3 and truth["engine"]["order"] == [1, 3, 4, 2], "head of the truth")
    check([(f["cylinder"], f["kind"]) for f in truth["faults"]] == [(3, "rings"), (2, "charge")], str(truth["faults"]))
    pct = {c["cylinder"]: c["contribution_pct"] for c in truth["cylinders"]}
    peak = {c["cylinder"]: c["peak_gauge_kpa"] for c in truth["cylinders"]}
    check(max(pct.values()) == 100 and all(abs(pct[c] - 100 * peak[c] / max(peak.values())) < 1e-6 for c in pct), str(pct))
    check(pct[3] < 75 and pct[2] < 90 and min(pct[1], pct[4]) > 90, "the faults are not where they were put: %s" % pct)
    check(0 <= truth["cranking"]["start_s"] < truth["cranking"]["settled_s"] < truth["cranking"]["end_s"] <= 3, "times")
    check(all(e["tdc_s"] <= truth["cranking"]["end_s"] for e in truth["events"]) and len(truth["events"]) > 10, "events")

    # Pressure and valves: the channel where it was asked for, the truth under the names of `pressure --json`.
    code, _, _ = synth("--order", "1-3-4-2", "--pressure", "4", "--pressure-unit", "V", "--pressure-scale", "250", "--pressure-zero", "0.5",
                       "--pressure-offset", "-7", "--pressure-drift", "3", "--pressure-noise", "1", "--pressure-bandwidth", "900", "--pressure-limit",
                       "1500", "--pressure-gauge", "--pressure-reversed", "--intake-closes", "-110", "--intake-closes", "4:-80", "--exhaust-opens",
                       "140", "--altitude", "1500", "--output", at("c.csv"), "--truth", at("truth.json"))
    truth = json.loads(data("truth.json"), parse_constant=refuse)
    told = truth["pressure"]
    check(code == 0 and data("c.csv").splitlines()[0] == b"Time (s),Clamp (A),Battery (V),Sync (V),Pressure (V)", str(data("c.csv")[:80]))
    for name, value in (("position", 3), ("cylinder", 4), ("unit", "V"), ("kpa_per_v", 250), ("zero_v", 0.5), ("zero", "gauge"), ("check_valve", False),
                        ("noise_kpa", 1), ("drift_kpa_per_s", 3), ("bandwidth_hz", 900), ("limit_kpa", 1500), ("reversed", True),
                        ("sensor_offset_kpa", -7), ("puffs_kpa_gauge", [])):
        check(told[name] == value, "pressure.%s is %s" % (name, told[name]))
    # The standard atmosphere at 1500 m: 101.325 (1 - 2.25577e-5 x 1500)^5.2559 (references.md F3, PRINTED formula) = 84.556 kPa.
    check(abs(truth["engine"]["ambient_kpa"] - 84.556) < 0.001, "ambient at 1500 m: %s" % truth["engine"]["ambient_kpa"])
    of = {c["cylinder"]: c for c in truth["cylinders"]}
    # Tolerances scatter valve events by 0.56 degrees (sd): four of those.
    check(abs(of[4]["intake_closes_deg"] + 80) < 2.3 and abs(of[1]["intake_closes_deg"] + 110) < 2.3, "intake closes")
    check(all(abs(c["exhaust_opens_deg"] - 140) < 2.3 for c in of.values()), "exhaust opens")
    own = [e for e in truth["events"] if e["position"] == 3]
    check([p["tdc_s"] for p in told["pulses"]] == [e["tdc_s"] for e in own] and len(own) > 3, "the cylinder's pulses")
    check(all(p["peak_s"] < p["tdc_s"] and p["peak_angle_deg"] < 0 for p in told["pulses"]), "peaks come before TDC")
    check(abs(told["peak_kpa"]["mean"] - of[4]["peak_gauge_kpa"] - 84.556) < 0.01, "absolute and gauge peaks")
    code, _, _ = synth("--cam-late", "40", "--intake-closes", "2:-120", "--output", at("c.csv"), "--truth", at("truth.json"))
    late = json.loads(data("truth.json"))["cylinders"]
    check(code == 0 and abs(late[0]["intake_closes_deg"] + 75) < 2.3 and abs(late[1]["intake_closes_deg"] + 80) < 2.3 and
          abs(late[3]["exhaust_opens_deg"] - 170) < 2.3 and late[0]["cylinder"] is None, "a cam that is late: %s" % late)
    code, stdout, _ = synth("--pressure", "2", "--check-valve", "--only", "pressure", "--sync", "none", "--pressure-noise", "0", "--truth",
                            at("truth.json"))
    gauge = [float(line.split(",")[1]) for line in stdout.splitlines()[1:]]
    told = json.loads(data("truth.json"))["pressure"]
    check(code == 0 and gauge[0] == 0 and gauge == sorted(gauge), "a gauge that falls")
    check(told["check_valve"] and told["zero"] == "gauge" and abs(told["puffs_kpa_gauge"][-1] - gauge[-1]) < 0.1, "the last puff")
    check(abs(told["first_pulse_ratio"] - told["puffs_kpa_gauge"][0] / told["puffs_kpa_gauge"][-1]) < 1e-9, "the first puff")
    # An order names a drawn engine's cylinders; its intervals and faults stay.
    truths = []
    for order in ([], ["--order", "1-3-4-2"]):
        code, _, stderr = synth("--family", "four-odd", "--seed", "1", *order, "--output", at("c.csv"), "--truth", at("truth.json"))
        truths.append(json.loads(data("truth.json")))
        check(code == 0, "a drawn engine: %s" % stderr)
    drawn, named = truths
    check(drawn["engine"]["intervals_deg"] == named["engine"]["intervals_deg"] and len(set(drawn["engine"]["intervals_deg"])) > 1, "intervals of a named engine")
    check([c["contribution_pct"] for c in drawn["cylinders"]] == [c["contribution_pct"] for c in named["cylinders"]], "faults of a named engine")
    check([c["cylinder"] for c in named["cylinders"]] == [1, 3, 4, 2], "names of a drawn engine")
    code, _, _ = synth("--output", at("c.csv"), "--truth", at("truth.json"))
    check(code == 0 and json.loads(data("truth.json"))["pressure"] is None, "a pressure that nobody recorded")

    # Refused: exit 1 for what cannot be run, 2 for wrong usage; nothing is written, an old file stays as it was.
    before = {name: data(name) for name in sorted(os.listdir(here))}
    for options, wanted, word in (
            (["--cylinders", "0"], 1, "1 to 16"), (["--cylinders", "99"], 1, "1 to 16"),
            (["--order", "1-3-3-2"], 1, "twice"), (["--order", "1-3.5-4-2"], 1, "3.5"), (["--intervals", "180,180,180,170"], 1, "710"),
            (["--fault", "9:rings"], 1, "9"), (["--fault", "3:rust"], 1, "rust"), (["--fault", "3:rings:-4"], 1, "leak"), (["--fault", "3:rings:many"], 1, "many"), (["--fault", "2.5:rings"], 1, "2.5"),
            (["--rate", "0"], 1, "rate"), (["--rate", "-1"], 1, "rate"), (["--seconds", "0"], 1, "second"),
            (["--seconds", "0.2"], 1, "second"), (["--seconds", "1e9"], 1, "second"), (["--speed", "0"], 1, "speed"),
            (["--speed", "nan"], 2, "speed"), (["--compression-ratio", "1"], 1, "ratio"), (["--noise", "-1"], 1, "noise"),
            (["--wheel", "banana"], 1, "wheel"), (["--family", "eleven"], 1, "eleven"),
            (["--family", "five", "--cylinders", "4"], 1, "draws 5 cylinders"),
            (["--starter", "clockwork"], 2, "starter"), (["--format", "mp3"], 2, "format"), (["--nope"], 2, "nope"),
            (["--seed", "x"], 2, "seed"), (["--seed", "-1"], 2, "seed"), (["--sync-lead", "nan"], 2, "lead"),
            (["--sync-lead", "900"], 1, "--sync-lead: 900"), (["--wheel-as", "analog"], 2, "--wheel-as requires --wheel"),
            (["--seed", "18446744073709551616"], 2, "not a whole number of 0 or more"),
            (["--seconds", "100", "--rate", "1e6"], 1, "samples"),
            (["--pressure", "9"], 1, "--pressure"), (["--pressure", "two"], 1, "two"), (["--pressure", "1", "--pressure-unit", "torr"], 2, "torr"),
            (["--pressure", "1", "--pressure-offset", "nan"], 2, "pressure-offset"), (["--pressure", "1", "--pressure-offset", "1e9"], 1, "pressure-offset"),
            (["--pressure", "1", "--pressure-noise", "-1"], 1, "pressure-noise"), (["--pressure", "1", "--pressure-noise", "much"], 2, "much"),
            (["--pressure", "1", "--pressure-drift", "inf"], 2, "pressure-drift"), (["--pressure", "1", "--pressure-bandwidth", "0"], 1, "pressure-bandwidth"),
            (["--pressure", "1", "--pressure-limit", "-5"], 1, "pressure-limit"), (["--pressure", "1", "--pressure-unit", "V", "--pressure-scale", "0"], 1, "pressure-scale"),
            (["--pressure", "1", "--pressure-unit", "V", "--pressure-zero", "nan"], 2, "pressure-zero"),
            (["--pressure", "1", "--pressure-scale", "200"], 2, "--pressure-unit v"), (["--pressure-unit", "psi"], 2, "--pressure"),
            (["--check-valve"], 2, "--pressure"), (["--only", "pressure"], 2, "--pressure"), (["--pressure", "1", "--wheel", "60-2"], 1, "analog"),
            (["--intake-closes", "-10"], 1, "-220 to -30"), (["--intake-closes", "9:-100"], 1, "9"), (["--intake-closes", "1:2:3"], 1, "1:2:3"),
            (["--intake-closes", "late"], 1, "late"), (["--exhaust-opens", "300"], 1, "60 to 220"), (["--exhaust-opens", "nan"], 1, "exhaust"),
            (["--cam-late", "90"], 1, "-60"), (["--cam-late", "nan"], 2, "cam-late"), (["--altitude", "9000"], 1, "6000")):
        for name in ("a.csv", "new.csv", "new.flac"):
            code, stdout, stderr = run("synth", *(QUICK if options[0] not in ("--rate", "--seconds") else []), *options,
                                       "--output", at(name), "--truth", at("new.json"))
            check(code == wanted and word in stderr.lower() and stdout == "", "%s: %d %s" % (options, code, stderr))
            check({n: data(n) for n in sorted(os.listdir(here))} == before, "%s: something was written" % options)
            check(wanted == 2 or stderr.startswith("evenstroke: --"), "no option is named: %s" % stderr)
            check(all(len(line) <= 80 for line in stderr.split("\n")), "wider than 80 columns: %s" % stderr)
    # A name that promises another format than those that are written; in capitals the known ones are known.
    for name in ("new.aiff", "new.W64", "new.mp3", "new.wav.bak"):
        code, stdout, stderr = synth("--output", at(name))
        check(code == 1 and stdout == "" and ".flac" in stderr and name in stderr.replace("\n  ", " "), "%s: %d %s" % (name, code, stderr))
        check({n: data(n) for n in sorted(os.listdir(here))} == before, "%s: something was written" % name)
    for name, begins in (("new.WAV", b"RIFF"), ("new.Flac", b"fLaC"), ("new", b"time"), ("new.TXT", b"time")):
        code, _, stderr = synth("--output", at(name))
        check(code == 0 and data(name).lower().startswith(begins.lower()), "%s: %d %s %s" % (name, code, stderr, data(name)[:20]))
        os.remove(at(name))

    code, _, stderr = synth("--format", "flac")
    check(code == 1 and "--output" in stderr, "audio to standard output: %s" % stderr)
    for name in ("/nonexistent/x.csv", "/nonexistent/x.flac", here):
        code, _, stderr = synth("--output", name, "--truth", at("new.json"))
        check(code == 1 and "cannot be written" in stderr.replace("\n  ", " "), "%s: %d %s" % (name, code, stderr))
        code, _, stderr = synth("--output", at("new.flac"), "--truth", name)
        check(code == 1 and "cannot be written" in stderr.replace("\n  ", " "), "truth %s: %d %s" % (name, code, stderr))
    code, _, stderr = synth("--output", at("new.csv"), "--truth", at("new.csv"))
    check(code == 2, "recording and truth in one file: %s" % stderr)
    check({n: data(n) for n in sorted(os.listdir(here))} == before, "something was written")

    # Audio goes where text does: through a link, into a pipe, with the old file's mode.
    open(at("old.wav"), "wb").close()
    os.chmod(at("old.wav"), 0o640)
    os.symlink("old.wav", at("link.wav"))
    code, _, stderr = synth("--output", at("link.wav"))
    check(code == 0 and os.path.islink(at("link.wav")) and data("old.wav").startswith(b"RIFF"), "through a link: %d %s" % (code, stderr))
    check(os.stat(at("old.wav")).st_mode & 0o777 == 0o640, "the old file's mode was not kept")
    os.mkfifo(at("pipe"))
    reader = subprocess.Popen(["cat", at("pipe")], stdout=subprocess.PIPE)
    code, _, stderr = synth("--output", at("pipe"), "--format", "wav")
    check(code == 0 and stat.S_ISFIFO(os.stat(at("pipe")).st_mode), "the pipe was replaced: %d %s" % (code, stderr))
    check(reader.communicate(timeout=30)[0] == data("old.wav"), "the pipe's bytes differ from the file's")
    for name in ("old.wav", "link.wav", "pipe"):
        os.remove(at(name))

    # What is written is what was drawn, as the program itself reads it back: one engine, two formats, one truth.
    for name in ("r.csv", "r.flac"):
        run("synth", "--order", "1-3-4-2", "--fault", "4:exhaust-valve:3", "--rate", "2000", "--seconds", "5", "--seed", "11",
            "--output", at(name), "--truth", at("r.json"))
    true_rpm = json.loads(data("r.json"))["cranking"]["speed_rpm"]
    for name, options in (("r.csv", ["--channel", "Clamp", "--sync", "Sync"]),
                          ("r.flac", ["--channel", "1", "--scale", "1000", "--sync", "3"])):
        code, stdout, stderr = run("crank", at(name), "--order", "1-3-4-2", *options, "--json", "-")
        result = json.loads(stdout)
        check(code == 0 and result["outcome"] == "weak", "%s: %d %s" % (name, code, stderr))
        check([c["cylinder"] for c in result["cylinders"] if c["verdict"] == "weak"] == [4], name + ": who is weak")
        check(abs(result["cranking"]["speed_rpm"] / true_rpm - 1) < 0.005, name + ": speed")

    code, stdout, stderr = run("synth", "--help")
    check(code == 0 and "Examples:" in stdout and stderr == "", "help")
    check(max(map(len, stdout.splitlines())) <= 80, "help is wider than 80")
    # A reader that goes away is an ordinary end.
    reader, writer = os.pipe()
    os.close(reader)
    ended = subprocess.run([PROGRAM, "synth", *QUICK], stdout=writer, stderr=subprocess.PIPE)
    os.close(writer)
    check(ended.returncode == 0 and ended.stderr == b"", "closed pipe: %d %s" % (ended.returncode, ended.stderr))
done()
