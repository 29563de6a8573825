"""Every document that crank and inspect write: RFC 8259, the schema, and CSV whose rows are all of one length."""
import csv
import io
import json
import os
import unicodedata

from support import SOURCE, check, cranking_csv, done, folder, run, write

try:
    import jsonschema
except ImportError:
    jsonschema = None
    print("python3-jsonschema is missing: documents are not held against docs/crank.schema.json")
schema = json.load(open(os.path.join(SOURCE, "docs", "crank.schema.json")))


def refuse(word):
    raise ValueError("%s is not JSON" % word)


def parse(text):
    document = json.loads(text, parse_constant=refuse)
    if jsonschema and document["command"] == "crank":
        jsonschema.Draft7Validator(schema).validate(document)
    return document


with folder() as here:
    good = cranking_csv(here)
    flat = cranking_csv(here, "flat.csv", weak=(0, 0, 0, 0))
    cases = [(good, ["--cylinders", "4"]), (good, ["--order", "1-3-4-2", "--sync", "Cyl1", "--channel", "Clamp"]),
             (flat, ["--cylinders", "4", "--channel", "Clamp"]), (good, ["--cylinders", "1"])]
    for path, options in cases:
        code, stdout, stderr = run("crank", path, *options, "--json", "-")
        check(code in (0, 3) and stderr == "", "%s: %d %s" % (options, code, stderr))
        document = parse(stdout)
        check((code == 3) == (document["outcome"] == "inconclusive"), "exit code and outcome disagree")
        check(len(document["cylinders"]) == document["engine"]["cylinders"], "a line a cylinder")
        check([c["position"] for c in document["cylinders"]] == list(range(1, len(document["cylinders"]) + 1)), "order")
        for flag in ("--events", "--cycles", "--wave"):
            code, stdout, _ = run("crank", path, *options, flag, "-")
            rows = list(csv.reader(io.StringIO(stdout)))
            check(rows and len({len(row) for row in rows}) == 1, flag + ": rows of different lengths")
            check("nan" not in stdout.lower() and "inf" not in stdout.lower(), flag + ": a number that is none")
    if jsonschema:  # seen failing once: a document that breaks the schema is refused
        broken = dict(document, outcome="fine")
        check(list(jsonschema.Draft7Validator(schema).iter_errors(broken)), "the schema refuses nothing")

    for columns in (40, 80, 200):
        code, stdout, _ = run("crank", good, "--cylinders", "4", env={"COLUMNS": str(columns)})
        wide = [l for l in stdout.splitlines() if len(l) > max(columns, 40) and " " in l.strip() and here not in l]
        check(not wide, "%d columns: %s" % (columns, wide))
        check("\x1b" not in stdout, "colour where there is no terminal")
    hostile = write(here, "b\xff\x1b[2J.csv".encode("latin-1").decode("utf-8", "surrogateescape"), open(good, "rb").read())
    code, stdout, _ = run("crank", hostile, "--cylinders", "4", "--json", "-")
    parse(stdout)
    code, stdout, _ = run("crank", hostile, "--cylinders", "4")
    check("\x1b" not in stdout, "a file name commands the terminal")
    # C1 controls too, in messages of both kinds.
    for arguments in (["crank", good, "--cylinders", "4", "--channel", "\u009b31mB"], ["crank", good, "--cylinders", "\u009b31m4"]):
        code, _, stderr = run(*arguments)
        check(code in (1, 2) and "\u009b" not in stderr and "?31m" in stderr, "a name commands the terminal: %r" % stderr)
    code, stdout, _ = run("inspect", good, "--json", "-")
    check(code == 0 and len(parse(stdout)["channels"]) == 2, "inspect lists the channels")
    code, stdout, _ = run("inspect", good)
    check(code == 0 and "Clamp" in stdout and "Cyl1" in stdout, "inspect in words")
    # A title longer than a line, and one whose characters take two columns each.
    for title in ("X" * 300, "\u8d77\u52a8\u673a\u7535\u6d41" * 8):
        long = write(here, "long.csv", open(good, encoding="utf-8").read().replace("Clamp", title, 1))
        for command in (["inspect", long], ["crank", long, "--cylinders", "4"]):
            code, stdout, stderr = run(*command)
            columns = [sum(1 + (unicodedata.east_asian_width(c) in "WF") for c in line) for line in stdout.splitlines()]
            check(code in (0, 3) and max(columns) <= 80, "%s: %d %s%s" % (command, max(columns), stdout, stderr))
            check(title in "".join(stdout.split()), "a title is not whole: %s" % stdout)
    code, stdout, _ = run("--version")
    check(code == 0 and stdout.startswith("evenstroke "), "version")
    for command in ([], ["crank"], ["inspect"], ["pressure"], ["followup"], ["compare"], ["batch"], ["synth"]):
        code, stdout, stderr = run(*command, "--help")
        check(code == 0 and "Examples:" in stdout and stderr == "", "help of %s" % command)
        check(max(map(len, stdout.splitlines())) <= 80, "help of %s is wider than 80" % command)
        check("Exit codes: 0" in stdout, "help of %s: no exit codes" % command)
        # The parser's own words for kinds of values say nothing to a user.
        for word in (":INT", ":UINT", ":FLOAT", "NONNEGATIVE", " in ["):
            check(word not in stdout, "help of %s: %s" % (command, word))
done()
