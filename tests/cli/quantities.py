"""What the fit gives beside the contributions: the drive, the kind of a loss, and pressures from one that was measured.

Expected pressures are the sample's true contributions (simulated; they stand in samples/README.md) times a made-up reading.
"""
import json
import os

from support import SOURCE, check, done, run

SAMPLE = os.path.join(SOURCE, "samples", "four-weak.csv")
NAMED = ["--order", "1-3-4-2", "--sync", "Sync"]
PSI_KPA = 6.894757  # NIST SP 811, appendix B

code, stdout, stderr = run("crank", SAMPLE, *NAMED, "--json", "-")
plain = json.loads(stdout)
check(code == 0 and not stderr, "exit %d: %s" % (code, stderr))
drive = plain["drive"]
for key, unit in (("stall", "a"), ("loop", "mohm"), ("torque", "nm"), ("friction", "nm")):
    low, value, high = (drive["%s%s_%s" % (key, part, unit)] for part in ("_low", "", "_high"))
    check(0 < low < value < high, "%s: %s" % (key, drive))
check(drive["friction_nm"] < drive["torque_nm"], "friction is more than the whole torque")
check([(c["peak_kpa"], c["peak_psi"]) for c in plain["cylinders"]] == [(None, None)] * 4, "pressures that nobody measured")
leaky = [c for c in plain["cylinders"] if c["cylinder"] == 3][0]
check(leaky["loss_kind"] == "leak", "the sample's exhaust valve leaks: %s" % leaky)
even = [c for c in plain["cylinders"] if c["verdict"] == "even"]
check(len(even) >= 2 and all(c["loss_kind"] is None for c in even), "a sound cylinder has no loss: %s" % even)
text = run("crank", SAMPLE, *NAMED)[1]
for word in ("loop resistance", "mΩ", "N·m", "looks like a leak"):
    check(word in text, "the summary does not say \"%s\"" % word)

measured = ["--reference-peak", "1200", "--reference-cylinder", "1"]
code, stdout, stderr = run("crank", SAMPLE, *NAMED, *measured, "--json", "-")
check(code == 0 and not stderr, "exit %d: %s" % (code, stderr))
true_pct = {1: 100, 3: 50, 4: 95, 2: 100}
cylinders = json.loads(stdout)["cylinders"]
check([c["cylinder"] for c in cylinders] == list(true_pct), "cylinders: %s" % cylinders)
for c in cylinders:
    expected = 1200 * true_pct[c["cylinder"]] / true_pct[1]
    check(c["peak_low_kpa"] <= c["peak_kpa"] <= c["peak_high_kpa"], "interval: %s" % c)
    # The truth is given in whole percent: 0.5 of 1200 kPa.
    check(c["peak_low_kpa"] - 6 <= expected <= c["peak_high_kpa"] + 6, "%g kPa is not in: %s" % (expected, c))
    check(abs(c["peak_psi"] * PSI_KPA - c["peak_kpa"]) < 0.5, "kPa and psi disagree: %s" % c)  # 0.05 psi of rounding
text = run("crank", SAMPLE, *NAMED, *measured)[1]
check("1200 kPa" in text and "psi" in text, "the summary gives no pressures")

for options, status, word in ((NAMED + measured[:2], 2, "--reference-cylinder"), (NAMED + measured[2:], 2, "--reference-peak"),
                              (["--cylinders", "4", "--sync", "Sync"] + measured, 2, "--order"),
                              (["--order", "1-3-4-2"] + measured, 2, "--sync"),
                              (NAMED + ["--reference-peak", "-3", "--reference-cylinder", "1"], 1, "--reference-peak"),
                              (NAMED + ["--reference-peak", "12", "--reference-cylinder", "1"], 1, "11.5 bar"),
                              (NAMED + ["--reference-peak", "1200", "--reference-cylinder", "7"], 1, "7")):
    code, stdout, stderr = run("crank", SAMPLE, *options)
    check(code == status and word in stderr and not stdout, "%s: %d %s" % (options, code, stderr))

# No clamp, no amperes; no volts before the key, no newton metres.
battery = os.path.join(SOURCE, "samples", "five-battery.csv")
stdout = run("crank", battery, "--order", "1-2-4-5-3", "--quantity", "voltage", "--sync", "Sync", "--json", "-")[1]
drive = json.loads(stdout)["drive"]
check(len(drive) == 13 and set(drive.values()) == {None}, "amperes out of volts: %s" % drive)
starts = os.path.join(SOURCE, "samples", "four-starts.tsv")
drive = json.loads(run("crank", starts, *NAMED, "--json", "-")[1])["drive"]
check(len(drive) == 13, "a field is missing: %s" % drive)

done()
