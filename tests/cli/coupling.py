"""AC-coupled recordings through the program: named with the remedy, no verdict, no figure built on the lost level."""
import csv
import json
import math
import os

from support import check, done, folder, run, write


def high_passed(source, target, column, corner_hz):
    """First-order high-pass of one column, begun at rest: what a capacitor in series does."""
    rows = list(csv.reader(open(source, encoding="utf-8")))
    step_s = float(rows[2][0]) - float(rows[1][0])
    keep, out, before = 1 / (1 + 2 * math.pi * corner_hz * step_s), 0.0, float(rows[1][column])
    for row in rows[1:]:
        value = float(row[column])
        out, before = keep * (out + value - before), value
        row[column] = "%.5g" % out
    return write(os.path.dirname(target), os.path.basename(target), "\n".join(",".join(r) for r in rows) + "\n")


with folder() as here:
    made = os.path.join(here, "made.csv")
    code, _, stderr = run("synth", "--order", "1-3-4-2", "--fault", "3:rings:4", "--rate", "2000", "--seed", "4", "--output", made)
    check(code == 0, "synth: %s" % stderr)
    options = ["--order", "1-3-4-2", "--sync", "Sync"]
    for column, channel, quantity in ((1, "Clamp", "current"), (2, "Battery", "voltage")):
        for corner_hz in (0.5, 5):
            name = "%s at %g Hz" % (channel, corner_hz)
            coupled = high_passed(made, os.path.join(here, "coupled.csv"), column, corner_hz)
            code, stdout, stderr = run("crank", coupled, *options, "--channel", channel, "--quantity", quantity, "--json", "-")
            check(code == 3 and stderr == "", "%s: %d %s" % (name, code, stderr))
            result = json.loads(stdout)
            said = [n["text"] for n in result["notices"] if n["code"] == "zero-lost"]
            check(len(said) == 1 and "DC coupling" in said[0] and "AC-coupled" in said[0], "%s: %s" % (name, result["notices"]))
            check(result["outcome"] == "inconclusive" and "DC coupling" in result["findings"][0]["text"], name)
            check([c["contribution_pct"] for c in result["cylinders"]] == [None] * 4, name + ": a contribution")
            for figure in ("inrush_a", "mean_a", "resting_v", "lowest_v", "mean_v"):
                check(result["cranking"][figure] is None, "%s: %s" % (name, figure))
            code, stdout, _ = run("inspect", coupled)
            check(code == 0 and "zero lost (AC-coupled?)" in stdout.replace("\n     ", " "), "%s: inspect says nothing: %s" % (name, stdout))
            # Without a word on the channel the one that kept its zero is taken, and the weak cylinder found.
            code, stdout, _ = run("crank", coupled, *options, "--json", "-")
            result = json.loads(stdout)
            check(code == 0 and result["recording"]["channel"] != channel, "%s: %d, %s taken" % (name, code, result["recording"]["channel"]))
            check([c["verdict"] for c in result["cylinders"]].index("weak") == 1, "%s: %s" % (name, result["cylinders"]))
done()
