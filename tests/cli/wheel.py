"""Toothed wheels of invented engines through the program: odd firing, windows, what is said of them."""
import json
import os

from support import SOURCE, check, done, folder, little_memory, run, write

ODD_SIX = ["--intervals", "150,90,150,90,150,90"]


def made(here, name, *options):
    path = os.path.join(here, name)
    code, _, stderr = run("synth", "--wheel", "60-2", "--seconds", "5", "--seed", "3", *options, "--output", path, "--truth", path + ".json")
    check(code == 0, "synth: %d %s" % (code, stderr))
    truth = json.load(open(path + ".json", encoding="utf-8"))["cylinders"]
    return path, [c["contribution_pct"] for c in truth]


def crank(path, *options):
    code, stdout, stderr = run("crank", path, "--channel", "Wheel", "--quantity", "wheel", "--wheel", "60-2", *options, "--json", "-")
    check(code in (0, 3) and stderr == "", "%s: %d %s" % (path, code, stderr))
    return json.loads(stdout)


with folder() as here:
    # Odd firing with a cam: names, no sound cylinder condemned, the weak one low.
    names = ["--order", "1-6-5-4-3-2"]
    path, truth = made(here, "six.csv", *names, *ODD_SIX, "--cam", "--fault", "6:rings:12")
    check(truth[1] < 50, "the fault is not there: %s" % truth)
    r = crank(path, *names, *ODD_SIX, "--sync", "Cam", "--sync-lead", "60")
    check(r["engine"]["intervals_deg"] == [150, 90, 150, 90, 150, 90] and not r["reference"]["once_per_turn"], r["reference"])
    for c, pct in zip(r["cylinders"], truth, strict=True):
        check(c["low_pct"] <= pct <= c["high_pct"], "%s, in truth %g" % (c, pct))
        check(c["verdict"] != ("even" if pct < 50 else "weak"), "%s, in truth %g" % (c, pct))
    check(min(range(6), key=lambda i: r["cylinders"][i]["contribution_pct"]) == 1, "the worn cylinder is not the lowest: %s" % r["cylinders"])

    # An odd twin with one side dead, and no mark of the cycle: that one is weak, or that the intervals fit in two places is said.
    path, truth = made(here, "twin.csv", "--intervals", "270,450", "--cam", "--fault", "2:exhaust-valve:60")
    r = crank(path, "--intervals", "270,450")
    doubt = "intervals-fit-twice" in [n["code"] for n in r["notices"]]
    weak = [c for c in r["cylinders"] if c["verdict"] == "weak"]
    check(len(weak) == (0 if doubt else 1), "doubt %s: %s" % (doubt, r["cylinders"]))
    check(r["outcome"] == ("inconclusive" if doubt else "weak"), "%s: %s" % (r["outcome"], r["cylinders"]))

    # Fifty minutes on end: in 400 MB, from a part that is named. The teeth of all of it would take 870 MB.
    turn, step = 0.3, 0.005
    times = [turn * k + step * tooth for k in range(10000) for tooth in range(58)]
    hour = write(here, "hour.csv", "time,crank\n" + "".join("%.6f,1\n%.6f,0\n" % (t, t + step / 2) for t in times))
    code, stdout, stderr = run("crank", hour, "--cylinders", "4", "--quantity", "wheel", "--wheel", "60-2", "--json", "-",
                               preexec_fn=little_memory)
    check(code == 3, "a long edge list: %d %s" % (code, stderr))
    r = json.loads(stdout)
    check("long-cranking" in [n["code"] for n in r["notices"]] and r["cranking"]["cycles"] == 59, r["cranking"])

    # What is missing is asked for by its option: nothing need be recorded again.
    for words, option in ((["four-wheel.csv", "--order", "1-3-4-2", "--quantity", "wheel", "--wheel", "60-2", "--sync", "Cam"], "--sync-lead"),
                          (["four-weak.csv", "--cylinders", "4", "--sync", "Sync"], "--order")):
        code, stdout, stderr = run("crank", os.path.join(SOURCE, "samples", words[0]), *words[1:], "--json", "-")
        first = json.loads(stdout)["next_tests"][0]
        check(first["code"] == "repeat-with-sync" and option in first["text"] and "Record" not in first["text"], first)
    code, stdout, stderr = run("crank", os.path.join(SOURCE, "samples", "four-wheel.csv"), "--cylinders", "4", "--quantity", "wheel",
                               "--wheel", "60-2", "--sync", "Cam", "--sync-lead", "60", "--json", "-")
    first = json.loads(stdout)["next_tests"][0]
    check("--order" in first["text"] and "--sync-lead" not in first["text"], first)

    # A window outside the recording gets what a trace's gets; one that is too short says that.
    for options, word in ((["--from", "50"], "the recording lasts"), (["--to", "-1"], "the recording lasts"),
                          (["--from", "2", "--to", "2.01"], "choose a longer part"), (["--from", "3", "--to", "2"], None)):
        code, stdout, stderr = run("crank", path, "--channel", "Wheel", "--quantity", "wheel", "--wheel", "60-2", "--cylinders", "2", *options)
        said = (stdout + stderr).replace("\n            ", " ").replace("\n  ", " ")
        check(code == (3 if word == "choose a longer part" else 1), "%s: %d %s" % (options, code, said))
        check((word or "--from") in said and " 0 teeth" not in said, "%s: %s" % (options, said))
done()
