"""Every command of samples/README.md, held against the truth that stands beside it (simulated, as the page says).

An interval that claims 95 % may miss one cylinder in twenty: so a miss is allowed to be small, and rare over all samples
together, but a wrong word never: no sound cylinder (85 % or more) called weak, and no dead one (below 50 %) called even.

The page also says what is found. "samples.py PROGRAM SOURCE --update" writes that into the page: read the difference.
"""
import json
import os
import re
import shlex
import subprocess
import sys

from support import PROGRAM, SOURCE, check, done, run

SOUND_PCT, DEAD_PCT = 85, 50
MOST_MISSED = 0.12  # of all cylinders: two standard errors above 5 % for three dozen, sqrt(0.05 * 0.95 / 35) = 0.037 each
MOST_OFF_PEAK = 0.02  # of the peak or the gauge's last reading; the bench asks 0.5 % of a transducer whose offset is found
MOST_OFF_PCT = 10  # the usual script's mean error on the bench, which the program has to beat everywhere

folder = os.path.join(SOURCE, "samples")
page = open(os.path.join(folder, "README.md"), encoding="utf-8").read()
rows = re.findall(r"^\| `([^`]+)` \| (.+?) \| ([0-9:, ]+) \| ([^|]+) \| `evenstroke ([^`]+)` \|$", page, re.M)
pressures = re.findall(r"^\| `([^`]+)` \| (.+?) \| ([^|]+) \| ([^|]+) \| `evenstroke (pressure [^`]+)` \|$", page, re.M)
recordings = sorted(f for f in os.listdir(folder) if f not in ("README.md", "make"))
check(sorted(row[0] for row in rows + pressures) == recordings, "the page's rows are not the folder's recordings: %s" % recordings)
check(sum(os.path.getsize(os.path.join(folder, f)) for f in os.listdir(folder)) < 3_000_000, "samples are over 3 MB")


def in_short(result, text):
    """What the page says is found: outcome, lowest cylinder and its interval, in the summary's whole percents."""
    lowest = min(result["cylinders"], key=lambda c: c["contribution_pct"])
    words = {"inconclusive": "no verdict"}.get(result["outcome"], result["outcome"])
    shown = re.search(r"^cylinder %d +(\d+) +(\d+) to +(\d+) " % lowest["cylinder"], text, re.M)
    return "%s; %d: %s (%s to %s)" % (words, lowest["cylinder"], *shown.groups())


def pressure_in_short(result):
    """What the page says a transducer or a gauge found: the outcome, and the figures or why there are none."""
    def said(form, value):
        return "n/a" if value is None else form % value
    outcome = {"inconclusive": "no verdict"}.get(result["outcome"], result["outcome"])
    if result["kind"] == "staircase":
        return "%s; %d puffs, the last %.0f kPa, the first %.0f %% of it" % (
            outcome, len(result["puffs_kpa_gauge"]), result["puffs_kpa_gauge"][-1], 100 * result["first_pulse_ratio"])
    if result["peak_kpa"]["mean"] is None:
        return outcome + "; " + result["headline"].removeprefix("No verdict: ").rstrip(".")
    leak = result["leak"]
    return "%s; peak %.0f kPa, leak %s mm², loss angle %s, intake closes %s, exhaust opens %s" % (
        outcome, result["peak_kpa"]["mean"], "n/a" if leak["mm2"] is None else "%.1f (%.1f to %.1f)" % (leak["mm2"], leak["low_mm2"], leak["high_mm2"]),
        said("%.1f°", result["loss_angle_deg"]), said("%.0f°", result["intake_closes_deg"]), said("%.0f°", result["exhaust_opens_deg"]))


seen, missed, found = 0, [], {}
for file, _, truth, said, command in rows:
    words = shlex.split(command)
    check(words[:2] == ["crank", file], "%s: the command names another file" % file)
    code, stdout, stderr = run(*words, "--json", "-", cwd=folder)
    check(code in (0, 3) and stderr == "", "%s: %d %s" % (file, code, stderr))
    result = json.loads(stdout)
    true_pct = {int(c): float(p) for c, p in (pair.split(":") for pair in truth.split(","))}
    check([c["cylinder"] for c in result["cylinders"]] == list(true_pct), "%s: cylinders" % file)
    for c in result["cylinders"]:
        true, what = true_pct[c["cylinder"]], "%s, cylinder %d: %s" % (file, c["cylinder"], c)
        check(c["contribution_pct"] is not None, what + " (nothing is said of it)")
        check(abs(c["contribution_pct"] - true) <= MOST_OFF_PCT, "%s, in truth %g" % (what, true))
        check(not (c["verdict"] == "weak" and true >= SOUND_PCT), what + ": a sound cylinder is condemned")
        check(not (c["verdict"] == "even" and true < DEAD_PCT), what + ": a dead cylinder is missed")
        seen += 1
        # The truth is given in whole percents.
        if not c["low_pct"] - 0.5 <= true <= c["high_pct"] + 0.5:
            missed.append("%s cylinder %d: %g to %g, in truth %g" % (file, c["cylinder"], c["low_pct"], c["high_pct"], true))
    text = run(*words, cwd=folder)[1]
    found[file] = in_short(result, text)
    check(found[file] == said or "--update" in sys.argv, "%s: the page says %s, found is %s; --update" % (file, said, found[file]))
    check(text.split()[0] in ("EVEN", "LOW", "WEAK", "NO"), file + ": the verdict does not come first")
    if file == "four-starts.tsv":
        check(result["cranking"]["ended_by"] == "engine start" and abs(result["cranking"]["end_s"] - 4.8) < 0.3, file)
    if file == "five-battery.csv":
        check(result["cranking"]["ended_by"] == "release" and result["cranking"]["inrush_a"] is None, file)
    if file == "four-wheel.csv":
        check(result["reference"]["sync_channel"] == "Cam", file)
print("intervals that miss the truth: %d of %d; %s" % (len(missed), seen, "; ".join(missed) or "none"))
check(len(missed) <= MOST_MISSED * seen, "too many intervals miss the truth: %s" % missed)
for file, _, truth, said, command in pressures:
    words = shlex.split(command)
    check(words[1] == file, "%s: the command names another file" % file)
    code, stdout, stderr = run(*words, "--json", "-", cwd=folder)
    check(code in (0, 3) and stderr == "", "%s: %d %s" % (file, code, stderr))
    result = json.loads(stdout)
    outcome, figures = truth.split("; ", 1)
    # These recordings are clean and their faults gross: a reason instead of the verdict would show nothing.
    check(result["outcome"] == outcome, "%s: %s, in truth %s: %s" % (file, result["outcome"], outcome, result["headline"]))
    true_kpa = float(re.search(r"(\d+) kPa", figures)[1])
    top = result["puffs_kpa_gauge"][-1] if result["kind"] == "staircase" else result["peak_kpa"]["mean"]
    check(abs(top / true_kpa - 1) < MOST_OFF_PEAK, "%s: %g kPa, in truth %g" % (file, top, true_kpa))
    found[file] = pressure_in_short(result)
    check(found[file] == said or "--update" in sys.argv, "%s: the page says %s, found is %s; --update" % (file, said, found[file]))
    word = "NO VERDICT" if result["outcome"] == "inconclusive" else outcome.upper()
    check(run(*words, cwd=folder)[1].startswith(word + "  "), file + ": the verdict does not come first")
# The same commands are what the speed is measured by: every recording, each by its own command.
ended = subprocess.run([sys.executable, "-B", os.path.join(SOURCE, "tools", "bench"), "speed", "--size", "1e6", "--repeats", "1", "--program", PROGRAM],
                       capture_output=True, text=True)
check(ended.returncode == 0 and ended.stderr == "", "tools/bench: %d %s" % (ended.returncode, ended.stderr))
for file, command in [(row[0], row[4].split()[0]) for row in rows + pressures]:
    check(re.search(r"^%s %s +[0-9.]+ +[03] " % (command, re.escape(file)), ended.stdout, re.M), "tools/bench leaves out %s: %s" % (file, ended.stdout))
if "--update" in sys.argv:
    for file, _, _, said, command in rows + pressures:
        page = page.replace(" | %s | `evenstroke %s`" % (said, command), " | %s | `evenstroke %s`" % (found[file], command))
    open(os.path.join(folder, "README.md"), "w", encoding="utf-8").write(page)
done()
