"""Two recordings through the program: documents, widths, exit codes, and a repair that shows."""
import json
import os

from support import SOURCE, check, cranking_csv, done, folder, run, skipped

try:
    import jsonschema
except ImportError:
    jsonschema = None
    skipped("documents against docs/compare.schema.json: python3-jsonschema is missing")
schema = json.load(open(os.path.join(SOURCE, "docs", "compare.schema.json")))
ORDER = ("--order", "1-3-4-2")


def parse(text):
    def refuse(word):
        raise ValueError("%s is not JSON" % word)
    document = json.loads(text, parse_constant=refuse)
    if jsonschema:
        jsonschema.Draft7Validator(schema).validate(document)
    return document


with folder() as here:
    def synth(name, *options):
        path = os.path.join(here, name)
        code, _, err = run("synth", *ORDER, "--seed", "5", *options, "--output", path)
        check(code == 0, err)
        return path

    # Simulation: one engine (seed 5) before and after its third cylinder's rings were renewed.
    worn = synth("worn.csv", "--fault", "3:rings:4")
    renewed = synth("renewed.csv", "--speed", "205")
    code, out, err = run("compare", worn, renewed, *ORDER, "--sync", "Sync", "--between", "repair", "--json", "-")
    check(code == 0 and err == "", "compare: %d %s" % (code, err))
    document = parse(out)
    changed = [c["cylinder"] for c in document["cylinders"] if c["beyond_chance"]]
    check(document["outcome"] == "changed" and changed == [3], str(changed))
    check([f["code"] for f in document["findings"]] == ["repair-helped"], str(document["findings"]))
    third = [c for c in document["cylinders"] if c["cylinder"] == 3][0]
    check(third["change_low_pct"] > 30 and third["degrees"] > 1 and third["p_corrected"] >= third["p"], str(third))
    back = parse(run("compare", renewed, worn, *ORDER, "--sync", "Sync", "--json", "-")[1])
    check([c["cylinder"] for c in back["cylinders"] if c["beyond_chance"]] == [3], "exchanged: another cylinder")

    code, out, _ = run("compare", worn, worn, *ORDER, "--sync", "Sync", "--json", "-")
    check(code == 0 and parse(out)["outcome"] == "unchanged", "a recording differs from itself")
    check("Both are the same recording" in parse(out)["headline"], "a recording beside itself is not said")

    for columns in (40, 80, 200):
        code, out, _ = run("compare", worn, renewed, *ORDER, "--sync", "Sync", env={"COLUMNS": str(columns)})
        wide = [l for l in out.splitlines() if len(l) > max(columns, 40) and here not in l]
        check(code == 0 and not wide and "\x1b" not in out, "%d columns: %s" % (columns, wide))
    check("degrees of freedom" in out and "CHANGED" in out, out)

    slow = synth("slow.csv", "--fault", "3:rings:4", "--speed", "150")
    document = parse(run("compare", worn, slow, *ORDER, "--sync", "Sync", "--json", "-")[1])
    check("speed-differs" in [n["code"] for n in document["confounders"]], "another speed is not named")

    # Without a mark nothing tells which cylinder is which: no verdict, exit 3, and the result is written.
    code, out, _ = run("compare", worn, renewed, *ORDER, "--json", "-")
    check(code == 3 and parse(out)["outcome"] == "inconclusive", "no sync: %d" % code)
    flat = cranking_csv(here, "flat.csv", weak=(0, 0, 0, 0))
    code, out, _ = run("compare", flat, flat, *ORDER, "--channel", "Clamp", "--sync", "Cyl1", "--json", "-")
    check(code == 3 and parse(out)["cylinders"] == [], "nothing compresses: %d" % code)

    result = os.path.join(here, "out.json")
    for arguments, expected, part in (((worn,), 2, "SECOND"), ((worn, renewed), 2, "number of cylinders"),
                                      (("-", "-", *ORDER), 2, "once"),
                                      ((worn, renewed, *ORDER, "--between", "luck"), 2, "luck"),
                                      ((worn, os.path.join(here, "no.csv"), *ORDER, "--json", result), 1, "no.csv"),
                                      ((worn, renewed, *ORDER, "--json", worn), 1, "recording itself")):
        code, out, err = run("compare", *arguments)
        check(code == expected and part in " ".join(err.split()), "%s: %d %s" % (arguments, code, err))
    check(not os.path.exists(result), "half-written")
    code, out, _ = run("compare", "--help")
    check(code == 0 and "Examples:" in out and max(map(len, out.splitlines())) <= 80, "help")
done()
